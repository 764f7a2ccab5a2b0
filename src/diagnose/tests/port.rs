//! What the port reports besides fuel trims and misfires: a refuelling, the rail pressure.

use super::*;
use crate::series::summary::{Moved, Refuelling};

/// Two captures an hour and 20 minutes of running apart, with the fuel level at the end of the first and the start of the
/// second.
fn two(fuel_trims: [FuelTrims; 2], level: [f64; 2]) -> Vec<Summary> {
    let [first, second] = fuel_trims.map(|fuel_trims| summary(&[fuel_trims]));
    let filled = |mut summary: Summary, hour: i64, level_pct: f64| {
        summary.facts.started = Some(jiff::Timestamp::from_second(3600 * hour).unwrap());
        summary.facts.fuel_level_pct = Some((level_pct, level_pct));
        summary.facts.minutes_since_clear = Some(1000.0 + 40.0 * hour as f64);
        summary
    };
    let [before, after] = level;
    vec![filled(first, 1, before), filled(second, 2, after)]
}

fn plus(pct: f64) -> FuelTrims {
    HEALTHY.map(|healthy| Some(healthy.unwrap() + pct))
}

fn judged_two(fuel_trims: [FuelTrims; 2], level: [f64; 2]) -> Diagnosis {
    with_vehicle(&two(fuel_trims, level), &Vehicle::default())
}

#[test]
fn trims_that_rise_alike_with_a_filled_tank_are_another_fuel() {
    let filled = judged_two([HEALTHY, plus(14.0)], [15.0, 92.0]);
    assert_eq!(
        filled.causes[0].cause,
        Cause::FuelBlend,
        "{}",
        causes_of(&filled)
    );
    let evidence: Vec<_> =
        crate::report::evidence_words::evidence_lines(&filled.causes[0]).collect();
    assert!(
        evidence.iter().any(|e| e
            .what
            .contains("by the same amount everywhere, when the car was refuelled")
            && e.log_odds > 1.0),
        "{evidence:?}"
    );
    // nothing was refuelled: the fuel is unchanged
    let same_tank = judged_two([HEALTHY, plus(14.0)], [15.0, 14.0]);
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    assert!(
        odds(&same_tank) < 0.25 * odds(&filled),
        "{}",
        causes_of(&same_tank)
    );
}

#[test]
fn trims_that_stay_over_a_refuelling_are_not_the_new_fuel() {
    let before = judged_two([plus(14.0), plus(14.0)], [15.0, 14.0]);
    let stayed = judged_two([plus(14.0), plus(14.0)], [15.0, 92.0]);
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    assert!(odds(&stayed) < odds(&before), "{}", causes_of(&stayed));
}

/// No variation of a healthy car moves all regions alike by 14 points overnight, and few parts fail just then.
#[test]
fn a_jump_between_captures_asks_for_the_fuel_where_the_tank_is_not_known() {
    let unknown = |fuel_trims| {
        let mut captures = two(fuel_trims, [15.0, 92.0]);
        captures
            .iter_mut()
            .for_each(|s| s.facts.fuel_level_pct = None);
        with_vehicle(&captures, &Vehicle::default())
    };
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    let jumped = unknown([HEALTHY, plus(14.0)]);
    let seen = judged_two([HEALTHY, plus(14.0)], [15.0, 92.0]);
    let proven_not = judged_two([HEALTHY, plus(14.0)], [15.0, 14.0]);
    assert!(odds(&jumped) < odds(&seen), "{}", causes_of(&jumped));
    assert!(
        odds(&jumped) > 2.0 * odds(&proven_not),
        "{}",
        causes_of(&jumped)
    );
    let mut all = jumped
        .causes
        .iter()
        .flat_map(crate::report::evidence_words::evidence_lines);
    let words = "between captures; nobody knows whether the car was refuelled";
    assert!(all.any(|evidence| evidence.what.contains(words)));
}

/// Half of the recording is on the new fuel: the mean shows half of what it needs.
#[test]
fn a_refuelling_inside_one_capture_is_seen_too() {
    let mut capture = summary(&[plus(6.0)]);
    let moved = |region| Moved {
        bank: 1,
        region,
        by_log: 1.12_f64.ln(),
        std_error_log: 0.008,
        after_share: 0.5,
    };
    capture.refuelling = Some(Refuelling {
        from_pct: 20.0,
        to_pct: 90.0,
        moved: Region::ALL.map(moved).to_vec(),
    });
    let seen = judged(&capture);
    assert_eq!(
        seen.causes[0].cause,
        Cause::FuelBlend,
        "{}",
        causes_of(&seen)
    );
    assert!(seen.causes[0].probability > 0.6, "{}", causes_of(&seen));
}
