//! What is known of the tank: it narrows intervals, and names refuelling that the gauge alone does not show.

use super::*;

/// A capture of ten minutes with the fuel level at its start and end and the engine minutes counted at its start.
fn tank(pct: f64, level: (f64, f64), minutes: Option<f64>) -> Summary {
    let mut summary = idle(pct);
    summary.seconds.total = 600.0;
    summary.facts.fuel_level_pct = Some(level);
    summary.facts.minutes_since_clear = minutes;
    summary
}

fn one(before: Summary, after: Summary) -> Comparison {
    compared_on_any_fuel(&[before], &[after])
}

/// Ten minutes of running between the logs burn 5 points at most and the gauge swings by 8: 13 of the 45 points there are at
/// the lowest.
#[test]
fn a_tank_that_was_not_filled_up_narrows_the_interval() {
    let of = |level, minutes| {
        one(
            tank(7.0, (50.0, 48.0), Some(1000.0)),
            tank(1.0, level, minutes),
        )
    };
    let width = |found: &Comparison| {
        let change = only_change(found);
        change.high_pct - change.low_pct
    };
    let same = of((47.0, 45.0), Some(1020.0));
    assert!((same.spread.new_fuel - 13.0 / 45.0).abs() < 1e-9);
    let unknown = of((47.0, 45.0), None);
    assert_eq!(unknown.spread, Spread::DEFAULT);
    assert!(width(&same) < 0.85 * width(&unknown));
    // six points are seen only so, and nobody need be asked about the fuel
    assert_eq!(
        (same.verdict, unknown.verdict),
        (Verdict::Better, Verdict::CannotTell)
    );
    assert!(same.if_same_fuel.is_none() && same.warnings.is_empty());
    let unknown = one(tank(9.0, (50.0, 48.0), None), tank(1.0, (47.0, 45.0), None));
    assert_eq!(unknown.verdict, Verdict::CannotTell);
    let same = unknown.if_same_fuel.map(|same| same.verdict);
    assert_eq!((same, unknown.warnings.len()), (Some(Verdict::Better), 1));
}

#[test]
fn all_the_fuel_may_be_new_after_long_running_or_when_codes_were_cleared_between() {
    for minutes in [1300.0, 20.0] {
        let found = one(
            tank(3.0, (50.0, 48.0), Some(1000.0)),
            tank(2.0, (47.0, 45.0), Some(minutes)),
        );
        assert_eq!(found.spread.new_fuel, 1.0, "{minutes}");
    }
}

/// 990 minutes burn 30 points at least, and the level fell by 5; cleared between, 500 minutes burn 15.
#[test]
fn running_longer_than_the_level_lets_is_refuelling() {
    for minutes in [2000.0, 500.0] {
        let found = one(
            tank(8.0, (60.0, 55.0), Some(1000.0)),
            tank(0.0, (50.0, 48.0), Some(minutes)),
        );
        assert_eq!(found.confounders, [Confounder::Refuelled]);
        assert_eq!(found.verdict, Verdict::CannotTell);
        assert!(
            found.warnings[0].contains("the car was refuelled"),
            "{:?}",
            found.warnings
        );
    }
    let used_up = one(
        tank(8.0, (60.0, 55.0), Some(1000.0)),
        tank(0.0, (20.0, 18.0), Some(1500.0)),
    );
    assert_eq!(used_up.confounders, []);
}

/// One odd tank does not explain what several tanks a side show.
#[test]
fn sides_of_several_tanks_each_are_not_explained_by_one_refuelling() {
    let side =
        |pct, from: f64| [0.0, 2000.0].map(|later| tank(pct, (50.0, 48.0), Some(from + later)));
    let found = compared_on_any_fuel(&side(10.0, 1000.0), &side(0.0, 9000.0));
    assert_eq!(
        (found.confounders, found.verdict),
        (vec![], Verdict::Better)
    );
}
