//! Levels, bank against bank, standing against driving.

use super::*;
use crate::cause::Cause;

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() < 0.01
}

/// By hand: ln 1.02 − ln 1.10 = −0.07551. Squared errors: two sides of 0.009² + 0.014² + 0.0078² between trips and 0.01²
/// inside, together 0.0008757; 1.96 errors are 0.0580. On 110 %: 110 (e^−0.1335 − 1) and 110 (e^−0.0175 − 1).
#[test]
fn one_trip_a_side_has_the_interval_of_a_car_that_wanders() {
    let found = compared(&[idle(10.0)], &[idle(2.0)]);
    let change = only_change(&found);
    assert!(close(change.before_pct, 10.0) && close(change.after_pct, 2.0));
    assert!(close(change.difference_pct, -8.0), "{change:?}");
    assert!((change.low_pct + 13.75).abs() < 0.05, "{change:?}");
    assert!((change.high_pct + 1.91).abs() < 0.05, "{change:?}");
    assert_eq!(change.matched_seconds, 600.0);
    assert_eq!(found.verdict, Verdict::Better);
    assert_eq!(
        compared(&[idle(2.0)], &[idle(10.0)]).verdict,
        Verdict::Worse
    );
}

#[test]
fn better_means_nearer_to_zero() {
    for (before, after, verdict) in [
        (10.0, 2.0, Verdict::Better),
        (-10.0, -2.0, Verdict::Better),
        (-2.0, -10.0, Verdict::Worse),
        // from lean to as rich
        (9.0, -8.0, Verdict::CannotTell),
        // through zero to where sound cars are
        (6.0, -1.5, Verdict::Better),
        (-1.5, 6.0, Verdict::Worse),
        // sound cars stand as near to zero as either: 2 · 3 to 1 that a lean fault was put right, 2 to 3 that a rich one was
        (4.5, -4.5, Verdict::Better),
        (-4.5, 4.5, Verdict::CannotTell),
        // four points are within what a car does from trip to trip
        (6.0, 2.0, Verdict::CannotTell),
    ] {
        let found = compared(&[idle(before)], &[idle(after)]);
        assert_eq!(found.verdict, verdict, "{before} to {after}");
    }
}

/// The odds beforehand are those of the table of how common each cause is: by hand 0.405 against 0.125.
#[test]
fn lean_faults_are_as_much_more_common_as_the_table_says() {
    let table: toml::Table = include_str!("../../diagnose/prior.toml").parse().unwrap();
    let sum = |causes: &[Cause]| -> f64 {
        let weight = |cause: &Cause| table[cause.id()]["weight"].as_float().unwrap();
        causes.iter().map(weight).sum()
    };
    let raise = sum(&[
        Cause::InjectorRestricted,
        Cause::InjectorsRestrictedSeveral,
        Cause::InjectorDead,
        Cause::IntakeLeak,
        Cause::IntakeLeakOneBank,
        Cause::AirMeterLow,
        Cause::FuelPressureLow,
        Cause::ExhaustLeak,
    ]);
    let lower = sum(&[
        Cause::InjectorLeaking,
        Cause::AirMeterHigh,
        Cause::FuelPressureHigh,
        Cause::PurgeStuck,
    ]);
    let odds = raise / lower;
    assert!(
        (0.0..0.5).contains(&(odds - trims::FAULT_IS_LEAN)),
        "{odds}"
    );
}

/// Load class 2 was held for 100 and 300 s, class 3 for 500 and 100 s: each weighs 100 s. Means: (4 + 8) / 2 and
/// (4 + 2) / 2, in logarithms 0.05809 and 0.02951.
#[test]
fn boxes_are_paired_and_weighed_by_the_lesser_time() {
    let at = |load, pct, seconds| (1, Region::LightCruise, load, pct, seconds);
    let before = trip(&[at(2, 4.0, 100.0), at(3, 8.0, 500.0), at(5, 30.0, 900.0)]);
    let after = trip(&[at(2, 4.0, 300.0), at(3, 2.0, 100.0), at(6, -30.0, 900.0)]);
    let found = compared(&[before], &[after]);
    let change = only_change(&found);
    assert_eq!(change.matched_seconds, 200.0);
    assert!(
        close(change.before_pct, 100.0 * 0.05809_f64.exp_m1()),
        "{change:?}"
    );
    assert!(
        close(change.after_pct, 100.0 * 0.02951_f64.exp_m1()),
        "{change:?}"
    );
    assert_eq!(found.cells.len(), 2);
}

#[test]
fn a_change_without_direction_is_distinguished_from_none() {
    let undirected = |before, after| {
        let found = compared(&[idle(before)], &[idle(after)]);
        only_change(&found).lacks_direction(&found.limits)
    };
    assert!(undirected(-4.5, 4.5));
    assert!(!undirected(6.0, 2.0) && !undirected(10.0, 2.0) && !undirected(2.0, 10.0));
}

/// Both means have the same error, however long they were held: ln 1.10 and ln 1.04 are 0.09531 and 0.03922.
#[test]
fn regions_are_weighed_by_how_well_they_are_known() {
    let side = |idle, cruise| {
        trip(&[
            (1, Region::WarmIdle, 2, idle, 900.0),
            (1, Region::LightCruise, 4, cruise, 90.0),
        ])
    };
    let change = only_change(&compared(&[side(10.0, 4.0)], &[side(0.0, 0.0)]));
    assert!(
        close(change.before_pct, 100.0 * 0.067265_f64.exp_m1()),
        "{change:?}"
    );
}

/// A cleaned engine idles at another load; means of 100 and 300 s.
#[test]
fn at_a_stand_all_loads_are_one() {
    let at = |load, pct, seconds| (1, Region::WarmIdle, load, pct, seconds);
    let before = trip(&[at(3, 9.0, 100.0), at(4, 9.0, 300.0)]);
    let after = trip(&[at(2, 0.0, 300.0)]);
    let change = only_change(&compared(&[before], &[after]));
    assert!(
        close(change.before_pct, 9.0) && close(change.after_pct, 0.0),
        "{change:?}"
    );
    assert_eq!(change.matched_seconds, 300.0);
}

/// Standing and driving at the same speed and load are not alike.
#[test]
fn the_same_box_in_another_region_is_another() {
    let before = trip(&[(1, Region::RaisedIdle, 3, 10.0, 600.0)]);
    let after = trip(&[(1, Region::LightCruise, 3, 0.0, 600.0)]);
    let found = compared(&[before], &[after]);
    assert!(found.trims.is_empty() && found.cells.is_empty());
    assert_eq!(found.verdict, Verdict::CannotTell);
    let regions: Vec<Option<Region>> = found.needed.iter().map(|needed| needed.region).collect();
    assert_eq!(
        regions,
        [Some(Region::RaisedIdle), Some(Region::LightCruise)]
    );
}

/// A long trip does not count for several.
#[test]
fn more_trips_narrow_the_interval_and_more_of_one_trip_does_not() {
    let width = |change: Change| change.high_pct - change.low_pct;
    let trips = |count, seconds| -> Vec<Summary> {
        // trips as far apart as usual, so that their own spread says nothing else
        let levels = [4.0, 6.0, 2.4, 7.6, 5.0, 5.0];
        let one = |pct: &f64| trip(&[(1, Region::WarmIdle, 2, *pct, seconds)]);
        levels[..count].iter().map(one).collect()
    };
    let of = |count, seconds| {
        let side = trips(count, seconds);
        width(only_change(&compared(&side, &side)))
    };
    let (one, long, four) = (of(1, 600.0), of(1, 6000.0), of(4, 600.0));
    assert!(long > 0.95 * one, "{long} {one}");
    assert!(four < 0.75 * one, "{four} {one}");
    // what trips close in time share stays: 1.96 √(2 · 0.9²) points on either side
    assert!(of(6, 60_000.0) > 2.0 * 1.96 * 0.9 * 2.0_f64.sqrt());
}

#[test]
fn captures_that_wander_more_than_the_measured_car_widen_the_interval() {
    let steady = [idle(4.0), idle(5.0), idle(6.0)];
    let restless = [idle(-6.0), idle(5.0), idle(16.0)];
    let width = |side: &[Summary]| {
        let found = compared(side, side);
        assert!(found.spread.degrees_of_freedom == 4.0);
        let change = only_change(&found);
        change.high_pct - change.low_pct
    };
    assert!(width(&restless) > 1.5 * width(&steady));
    assert_eq!(compared(&steady[..1], &steady[..1]).spread, Spread::DEFAULT);
}

/// Both banks moved by fuel and weather alike, but bank 1 came down by four points against bank 2.
#[test]
fn banks_against_each_other_tell_what_levels_cannot() {
    let side = |one, two| {
        trip(&[
            (1, Region::WarmIdle, 2, one, 600.0),
            (2, Region::WarmIdle, 2, two, 600.0),
        ])
    };
    let found = compared(&[side(5.0, 0.5)], &[side(2.5, 2.5)]);
    assert!(
        found
            .trims
            .iter()
            .all(|trim| trim.change.verdict == Verdict::CannotTell)
    );
    let [bank] = &found.banks[..] else {
        panic!("{:?}", found.banks);
    };
    assert_eq!((bank.other, bank.change.verdict), (2, Verdict::Better));
    assert!(bank.change.high_pct < -1.5, "{bank:?}");
    assert_eq!(found.verdict, Verdict::Better);
}

/// An air leak gone: ten points at idle, two at cruise, while fuel moved everything up by four.
#[test]
fn standing_against_driving_cancels_what_shifts_a_whole_trip() {
    let side = |idle, cruise| {
        trip(&[
            (1, Region::WarmIdle, 2, idle, 600.0),
            (1, Region::LightCruise, 4, cruise, 600.0),
        ])
    };
    let found = compared(&[side(11.0, 2.0)], &[side(5.0, 4.0)]);
    assert_eq!(only_change(&found).verdict, Verdict::CannotTell);
    let across = found.standing_against_driving.unwrap();
    assert!(
        close(across.before_pct, 100.0 * (1.11 / 1.02 - 1.0)),
        "{across:?}"
    );
    assert_eq!(across.verdict, Verdict::Better, "{across:?}");
}

#[test]
fn many_steady_trips_show_that_nothing_changed() {
    let side = |pct: f64| (0..12).map(|_| idle(pct)).collect::<Vec<_>>();
    assert_eq!(compared(&side(1.0), &side(1.0)).verdict, Verdict::NoChange);
    assert_eq!(
        compared(&side(1.0)[..1], &side(1.0)[..1]).verdict,
        Verdict::CannotTell
    );
}

#[test]
fn what_would_settle_it_is_minutes_while_they_help_and_trips_then() {
    // seven points: the wander between trips leaves 5.1 points, the half minute of idle does not
    let short = |pct| {
        let mut trip = trip(&[(1, Region::WarmIdle, 2, pct, 40.0)]);
        trip.trims[0].std_error_log = 0.025;
        trip
    };
    let found = compared(&[short(9.0)], &[short(2.0)]);
    assert_eq!(found.verdict, Verdict::CannotTell);
    let [needed] = &found.needed[..] else {
        panic!("{:?}", found.needed);
    };
    assert_eq!(
        (needed.region, needed.more_trips),
        (Some(Region::WarmIdle), 0)
    );
    assert!((0.5..=10.0).contains(&needed.more_minutes), "{needed:?}");
    // five points on ten minutes a side: only more trips help
    let found = compared(&[idle(7.0)], &[idle(2.5)]);
    let [needed] = &found.needed[..] else {
        panic!("{:?}", found.needed);
    };
    assert_eq!((needed.region, needed.more_minutes), (None, 0.0));
    assert!((1..=4).contains(&needed.more_trips), "{needed:?}");
}
