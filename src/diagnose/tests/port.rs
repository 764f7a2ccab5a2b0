//! What the port tells beside corrections and misfires: a filled tank, the rail's pressure.

use super::*;
use crate::series::summary::{Filling, Moved};

/// Two captures an hour and 20 minutes of running apart, with the fuel level at the end of the first and the start of the
/// second.
fn two(corrections: [Corrections; 2], level: [f64; 2]) -> Vec<Summary> {
    let [first, second] = corrections.map(|corrections| summary(&[corrections]));
    let told = |mut summary: Summary, hour: i64, level_pct: f64| {
        summary.facts.started = Some(jiff::Timestamp::from_second(3600 * hour).unwrap());
        summary.facts.fuel_level_pct = Some((level_pct, level_pct));
        summary.facts.minutes_since_clear = Some(1000.0 + 40.0 * hour as f64);
        summary
    };
    let [before, after] = level;
    vec![told(first, 1, before), told(second, 2, after)]
}

fn plus(pct: f64) -> Corrections {
    HEALTHY.map(|healthy| Some(healthy.unwrap() + pct))
}

fn judged_two(corrections: [Corrections; 2], level: [f64; 2]) -> Diagnosis {
    with_vehicle(&two(corrections, level), &Vehicle::default())
}

#[test]
fn corrections_that_rise_alike_with_a_filled_tank_are_another_fuel() {
    let filled = judged_two([HEALTHY, plus(14.0)], [15.0, 92.0]);
    assert_eq!(
        filled.causes[0].cause,
        Cause::FuelBlend,
        "{}",
        told(&filled)
    );
    let evidence: Vec<_> = crate::report::evidence_words::told(&filled.causes[0]).collect();
    assert!(
        evidence.iter().any(|e| e
            .what
            .contains("by the same amount everywhere, when the car was refuelled")
            && e.log_odds > 1.0),
        "{evidence:?}"
    );
    // the same with nothing filled in: the fuel is the one that it was
    let same_tank = judged_two([HEALTHY, plus(14.0)], [15.0, 14.0]);
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    assert!(
        odds(&same_tank) < 0.25 * odds(&filled),
        "{}",
        told(&same_tank)
    );
}

#[test]
fn corrections_that_stay_over_a_filling_are_not_the_new_fuel() {
    let before = judged_two([plus(14.0), plus(14.0)], [15.0, 14.0]);
    let stayed = judged_two([plus(14.0), plus(14.0)], [15.0, 92.0]);
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    assert!(odds(&stayed) < odds(&before), "{}", told(&stayed));
}

/// No wander of a healthy car moves all regions alike by 14 points overnight, and few parts break just then.
#[test]
fn a_jump_between_captures_asks_for_the_fuel_where_the_tank_is_not_known() {
    let unknown = |corrections| {
        let mut captures = two(corrections, [15.0, 92.0]);
        captures
            .iter_mut()
            .for_each(|s| s.facts.fuel_level_pct = None);
        with_vehicle(&captures, &Vehicle::default())
    };
    let odds = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::FuelBlend);
    let jumped = unknown([HEALTHY, plus(14.0)]);
    let seen = judged_two([HEALTHY, plus(14.0)], [15.0, 92.0]);
    let proven_not = judged_two([HEALTHY, plus(14.0)], [15.0, 14.0]);
    assert!(odds(&jumped) < odds(&seen), "{}", told(&jumped));
    assert!(odds(&jumped) > 2.0 * odds(&proven_not), "{}", told(&jumped));
    let mut all = jumped
        .causes
        .iter()
        .flat_map(crate::report::evidence_words::told);
    let words = "between captures; nobody knows whether the car was refuelled";
    assert!(all.any(|evidence| evidence.what.contains(words)));
}

/// Half of the recording is on the new fuel: the mean shows half of what it needs.
#[test]
fn a_filling_inside_one_capture_is_seen_too() {
    let mut capture = summary(&[plus(6.0)]);
    let moved = |region| Moved {
        bank: 1,
        region,
        by_log: 1.12_f64.ln(),
        std_error_log: 0.008,
        after_share: 0.5,
    };
    capture.filling = Some(Filling {
        from_pct: 20.0,
        to_pct: 90.0,
        moved: Region::ALL.map(moved).to_vec(),
    });
    let seen = judged(&capture);
    assert_eq!(seen.causes[0].cause, Cause::FuelBlend, "{}", told(&seen));
    assert!(seen.causes[0].probability > 0.6, "{}", told(&seen));
}
