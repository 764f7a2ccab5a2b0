//! Each misleading circumstance is named, and rules out the statements that it invalidates.

use super::*;
use crate::{
    identity::SupportBlock,
    series::summary::{Facts, Operation, Seconds},
};

/// Sets a fact.
type Set = fn(&mut Facts);

/// A side of one capture with these facts.
fn with(pct: f64, change: impl FnOnce(&mut Facts)) -> Summary {
    let mut summary = idle(pct);
    change(&mut summary.facts);
    summary
}

fn one(before: &Summary, after: &Summary) -> Comparison {
    let sides = [before, after].map(std::slice::from_ref);
    compared(sides[0], sides[1])
}

/// A comparison where the user has not stated the fuel.
fn unanswered(before: &Summary, after: &Summary) -> Comparison {
    let sides = [before, after].map(std::slice::from_ref);
    compared_on_any_fuel(sides[0], sides[1])
}

/// The only deception, with its sentence.
fn only(comparison: &Comparison) -> (Confounder, &str) {
    let [what] = comparison.confounders[..] else {
        panic!("{:?}", comparison.warnings);
    };
    (what, &comparison.warnings[0])
}

#[test]
fn a_plain_pair_is_warned_of_nothing() {
    let found = one(&idle(7.0), &idle(5.0));
    assert_eq!((found.confounders, found.warnings), (vec![], vec![]));
}

#[test]
fn codes_cleared_are_reported_by_minutes_warm_ups_kilometres_or_the_trims_themselves() {
    let reported: [(Set, &str); 4] = [
        (
            |facts| facts.minutes_since_clear = Some(12.0),
            "cleared 12 engine minutes before the recording from after",
        ),
        (
            |facts| facts.warm_ups_since_clear = Some(1.0),
            "cleared 1 warm-ups before",
        ),
        (
            |facts| facts.km_since_clear = Some(7.0),
            "cleared 7 km before",
        ),
        (
            |facts| facts.long_trim_from_zero = true,
            "it started at zero and moved away",
        ),
    ];
    for (change, words) in reported {
        let found = one(&idle(10.0), &with(2.0, change));
        let (what, sentence) = only(&found);
        assert_eq!(what, Confounder::Cleared);
        assert!(sentence.contains(words), "{sentence}");
        // the total correction holds without the learned part
        assert_eq!(found.verdict, Verdict::Better);
    }
    // long ago by the first that the car keeps
    let long_ago = with(2.0, |facts| {
        facts.minutes_since_clear = Some(9000.0);
        facts.warm_ups_since_clear = Some(0.0);
    });
    assert!(one(&idle(10.0), &long_ago).confounders.is_empty());
}

#[test]
fn while_trims_are_being_learned_trims_say_nothing() {
    let mut after = idle(2.0);
    after.seconds = Seconds {
        total: 1000.0,
        used: 300.0,
        relearn: 700.0,
        ..Seconds::default()
    };
    let found = one(&idle(10.0), &after);
    assert_eq!(only(&found).0, Confounder::Relearning);
    assert_eq!(found.verdict, Verdict::CannotTell);
    assert!(found.forbidden().unwrap().contains("record again"));
    // misfires are counted whatever the trims do
    let misfires = |count| counted(&[count], 9000.0).misfires;
    let before = Summary {
        misfires: misfires(90.0),
        ..idle(10.0)
    };
    after.misfires = misfires(0.0);
    assert_eq!(one(&before, &after).verdict, Verdict::Better);
}

#[test]
fn a_cold_side_is_named() {
    let timed = |cold| Summary {
        seconds: Seconds {
            total: 1000.0,
            used: 1000.0 - cold,
            cold,
            ..Seconds::default()
        },
        ..idle(2.0)
    };
    let found = one(&timed(600.0), &timed(0.0));
    let (what, sentence) = only(&found);
    assert_eq!(what, Confounder::Cold);
    assert!(
        sentence.contains("60 % of the recording from before"),
        "{sentence}"
    );
    // both started cold: like is compared with like
    assert!(one(&timed(600.0), &timed(500.0)).confounders.is_empty());
}

#[test]
fn sides_that_were_driven_otherwise_are_named() {
    let timed = |visits: &[Visit]| Summary {
        seconds: Seconds {
            total: 1000.0,
            used: 1000.0,
            ..Seconds::default()
        },
        ..trip(visits)
    };
    let town = timed(&[(1, Region::LightCruise, 3, 10.0, 1000.0)]);
    let hills = timed(&[(1, Region::Loaded, 7, 2.0, 1000.0)]);
    let found = one(&town, &hills);
    let (what, sentence) = only(&found);
    assert_eq!(
        (what, found.verdict),
        (Confounder::OtherCells, Verdict::CannotTell)
    );
    assert!(sentence.contains("no engine speed and load"), "{sentence}");
    assert!(!found.needed.is_empty());
    let mixed = timed(&[
        (1, Region::Loaded, 7, 2.0, 850.0),
        (1, Region::LightCruise, 3, 2.0, 150.0),
    ]);
    let found = one(&town, &mixed);
    let (what, sentence) = only(&found);
    assert_eq!(what, Confounder::OtherCells);
    assert!(
        sentence.contains("only 150 of 1000 usable seconds"),
        "{sentence}"
    );
}

#[test]
fn another_blend_takes_the_level_away_and_leaves_the_banks() {
    let blend = |mut summary: Summary, pct| {
        summary.facts.ethanol_pct = Some(pct);
        summary
    };
    let found = one(&blend(idle(10.0), 30.0), &blend(idle(2.0), 10.0));
    let (what, sentence) = only(&found);
    assert_eq!(
        (what, found.verdict),
        (Confounder::OtherBlend, Verdict::CannotTell)
    );
    assert!(
        sentence.contains("30 % ethanol before and 10 % after"),
        "{sentence}"
    );
    let banks = |first, second| {
        trip(&[
            (1, Region::WarmIdle, 2, first, 600.0),
            (2, Region::WarmIdle, 2, second, 600.0),
        ])
    };
    let found = one(
        &blend(banks(15.0, 8.0), 30.0),
        &blend(banks(0.0, 0.0), 10.0),
    );
    assert_eq!(found.verdict, Verdict::Better);
    assert_eq!(
        one(&blend(idle(10.0), 11.0), &blend(idle(2.0), 9.0)).verdict,
        Verdict::Better
    );
}

#[test]
fn everything_alike_with_more_in_the_tank_is_fuel_until_shown_otherwise() {
    let tank = |mut summary: Summary, start, end| {
        summary.facts.fuel_level_pct = Some((start, end));
        summary
    };
    let found = unanswered(&tank(idle(8.0), 25.0, 20.0), &tank(idle(0.0), 65.0, 60.0));
    let (what, sentence) = only(&found);
    assert_eq!(
        (what, found.verdict),
        (Confounder::Refuelled, Verdict::CannotTell)
    );
    assert!(sentence.contains("from 20 to 65 %") && sentence.contains("--fuel same"));
    let same = found.if_same_fuel.as_ref().map(|same| same.verdict);
    assert_eq!(same, Some(Verdict::Better));
    // somebody knows
    let filled = [tank(idle(8.0), 25.0, 20.0), tank(idle(0.0), 65.0, 60.0)];
    let answered = |fuel| compare(&filled[..1], &filled[1..], &Limits::default(), fuel);
    let same = answered(FuelAnswer::Same);
    assert_eq!((same.verdict, same.warnings.len()), (Verdict::Better, 0));
    let changed = answered(FuelAnswer::Changed);
    assert_eq!(changed.verdict, Verdict::CannotTell);
    assert!(changed.if_same_fuel.is_none() && only(&changed).1.contains("fuel changed"));
    // used up, as far as the gauge tells: a question stays
    let found = unanswered(&tank(idle(8.0), 65.0, 60.0), &tank(idle(0.0), 55.0, 50.0));
    assert_eq!(
        (found.confounders.len(), found.verdict),
        (0, Verdict::CannotTell)
    );
    let question = &found.warnings[0];
    assert!(question.contains("Ask what was filled in"), "{question}");
    // idle came down, cruise stayed: no fuel does that
    let side = |idle, cruise| {
        trip(&[
            (1, Region::WarmIdle, 2, idle, 900.0),
            (1, Region::LightCruise, 4, cruise, 600.0),
        ])
    };
    let found = unanswered(
        &tank(side(16.0, 2.0), 25.0, 20.0),
        &tank(side(0.0, 2.5), 65.0, 60.0),
    );
    assert_eq!(
        (found.confounders.len(), found.verdict),
        (0, Verdict::Better)
    );
    assert!(found.warnings.is_empty());
}

#[test]
fn other_air_is_named() {
    let cases: [(Set, Set, Confounder); 2] = [
        (
            |facts| facts.intake_air_c = Some(-5.0),
            |facts| facts.intake_air_c = Some(35.0),
            Confounder::OtherTemperature,
        ),
        (
            |facts| facts.barometer_kpa = Some(101.0),
            |facts| facts.barometer_kpa = Some(84.0),
            Confounder::OtherPressure,
        ),
    ];
    for (before, after, expected) in cases {
        let found = one(&with(5.0, before), &with(5.0, after));
        assert_eq!(only(&found).0, expected);
    }
    let weather = |kpa| with(5.0, |facts| facts.barometer_kpa = Some(kpa));
    assert!(one(&weather(99.0), &weather(101.5)).confounders.is_empty());
}

#[test]
fn purge_on_one_side_is_named() {
    let purging = |pct| {
        let mut summary = idle(5.0);
        summary.operation.push(Operation {
            region: Region::WarmIdle,
            seconds: 600.0,
            engine_rpm: 750.0,
            load_pct: None,
            absolute_load_pct: None,
            manifold_kpa: None,
            air_g_per_s: None,
            purge_pct: Some(pct),
            spark_deg: None,
        });
        summary
    };
    let found = one(&purging(0.0), &purging(35.0));
    let (what, sentence) = only(&found);
    assert_eq!(what, Confounder::Purge);
    assert!(
        sentence.contains("only in the recording from after"),
        "{sentence}"
    );
    assert!(one(&purging(30.0), &purging(35.0)).confounders.is_empty());
}

#[test]
fn counters_that_began_anew_are_named() {
    let mut after = counted(&[3.0], 9000.0);
    after.misfires.as_mut().unwrap().resets = 1;
    let found = one(&counted(&[90.0], 9000.0), &after);
    assert!(found.confounders.contains(&Confounder::CountersReset));
    assert!(
        found
            .warnings
            .iter()
            .any(|warning| warning.contains("were reset during the recording from after"))
    );
}

#[test]
fn two_cars_are_never_compared() {
    let vin = |pct, vin: &str| with(pct, |facts| facts.car.vin = Some(vin.to_owned()));
    let found = one(
        &vin(10.0, "000HRBRDRWN000001"),
        &vin(2.0, "000HRBRDRWN000002"),
    );
    let (what, sentence) = only(&found);
    assert_eq!(
        (what, found.verdict),
        (Confounder::OtherCar, Verdict::CannotTell)
    );
    assert!(
        sentence.contains("two cars") && sentence.contains("000HRBRDRWN000002"),
        "{sentence}"
    );
    assert!(found.needed.is_empty());
    assert_eq!(
        one(
            &vin(10.0, "000HRBRDRWN000001"),
            &vin(2.0, "000HRBRDRWN000001")
        )
        .verdict,
        Verdict::Better
    );

    let program =
        |pct, name: &str| with(pct, |facts| facts.car.calibrations = vec![name.to_owned()]);
    let found = one(&program(10.0, "HR-0001-A0"), &program(2.0, "HR-0002-A0"));
    assert_eq!(
        (only(&found).0, found.verdict),
        (Confounder::OtherCar, Verdict::CannotTell)
    );

    let supporting = |pct, blocks: &[(u8, [u8; 4])]| {
        let blocks = blocks
            .iter()
            .map(|(first, mask)| SupportBlock::new(0x01, *first, *mask));
        with(pct, |facts| facts.car.supported = blocks.collect())
    };
    let first = (0x00, [0xBE, 0x3E, 0xA8, 0x13]);
    let found = one(
        &supporting(10.0, &[first, (0x20, [0x80, 0, 0, 0])]),
        &supporting(2.0, &[first, (0x20, [0x80, 1, 0, 0])]),
    );
    assert_eq!(
        (only(&found).0, found.verdict),
        (Confounder::OtherCar, Verdict::CannotTell)
    );
    // a block that only one capture asked for says nothing
    let asked_less = one(
        &supporting(10.0, &[first]),
        &supporting(2.0, &[first, (0x20, [0x80, 1, 0, 0])]),
    );
    assert_eq!(
        (asked_less.confounders.len(), asked_less.verdict),
        (0, Verdict::Better)
    );
}

#[test]
fn swapped_sides_are_reported_by_their_start() {
    let on = |pct, day: &str| {
        with(pct, |facts| {
            facts.started = Some(format!("2026-03-{day}T10:00:00Z").parse().unwrap())
        })
    };
    let found = one(&on(2.0, "20"), &on(10.0, "12"));
    let (what, sentence) = only(&found);
    assert_eq!(
        (what, found.verdict),
        (Confounder::SidesSwapped, Verdict::CannotTell)
    );
    assert!(sentence.contains("the other way round"), "{sentence}");
    assert_eq!(
        one(&on(10.0, "12"), &on(2.0, "20")).verdict,
        Verdict::Better
    );
    let found = compared(&[on(10.0, "12"), on(10.0, "21")], &[on(2.0, "20")]);
    assert!(found.confounders.contains(&Confounder::SidesMixed));
}
