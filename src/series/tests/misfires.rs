//! Misfire counters.

use super::*;
use crate::series::{label::region::Region, summary::MisfireSummary};

/// Test identifier of the misfires of the current driving cycle.
const CYCLE: u8 = 0x0C;

fn counter(cylinder: u8) -> Item {
    Item::monitor(0xA1 + cylinder, CYCLE)
}

/// An idle at 750 rpm whose counters are read every fifth second.
fn idle_with(seconds: u64, counts: impl Fn(f64) -> Vec<(u8, f64)>) -> MisfireSummary {
    summary_of(seconds, |t| with_counters(Car::idling(), t, &counts))
        .misfires
        .unwrap()
}

fn with_counters(car: Car, t: f64, counts: &impl Fn(f64) -> Vec<(u8, f64)>) -> Car {
    if t % 5.0 != 0.0 {
        return car;
    }
    let counts = counts(t).into_iter();
    counts.fold(car, |car, (cylinder, count)| {
        car.with_item(counter(cylinder), count)
    })
}

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() < 1e-6 * expected.abs().max(1.0)
}

#[test]
fn a_car_without_counters_says_nothing() {
    assert_eq!(summary_of(60, |_| Car::idling()).misfires, None);
}

#[test]
fn increments_are_counted_against_revolutions() {
    // cylinder 3 counts one in five seconds, and had 40 before
    let misfires = idle_with(601, |t| vec![(1, 0.0), (3, 40.0 + t / 5.0)]);
    // 600 s at 12.5 revolutions a second
    assert!(close(misfires.revolutions, 7500.0), "{misfires:?}");
    assert!(close(
        misfires.revolutions_by_region[Region::WarmIdle],
        7500.0
    ));
    let [first, third] = &misfires.cylinders[..] else {
        panic!("{misfires:?}");
    };
    assert_eq!(
        (first.cylinder, first.count, first.counter_high),
        (1, 0.0, 0.0)
    );
    assert_eq!((third.cylinder, third.counter_high), (3, 160.0));
    assert_eq!(misfires.resets, 0);
    assert!(close(third.count, 120.0));
    assert!(close(third.count_by_region[Region::WarmIdle], 120.0));
    assert_eq!(third.dispersion, 1.0);
}

#[test]
fn counts_belong_to_the_region_in_which_they_came() {
    // 300 s of idle with one in five seconds, 300 s of cruise without any
    let summary = summary_of(601, |t| {
        let car = if t < 300.0 {
            Car::idling()
        } else {
            Car::cruising()
        };
        with_counters(car, t, &|t: f64| vec![(2, t.min(300.0) / 5.0)])
    });
    let misfires = summary.misfires.unwrap();
    let second = &misfires.cylinders[0];
    assert!(close(second.count, 60.0), "{second:?}");
    let idle = second.count_by_region[Region::WarmIdle];
    let cruise = second.count_by_region[Region::LightCruise];
    // the two seconds on either side of the step are transients, within their regions all the same
    assert!(idle > 58.5 && cruise < 1.5, "{second:?}");
}

#[test]
fn a_reset_counts_what_came_since_and_no_more() {
    let misfires = idle_with(601, |t| {
        vec![(
            1,
            if t < 300.0 {
                500.0 + t / 5.0
            } else {
                (t - 300.0) / 5.0
            },
        )]
    });
    // 59 before the reset at 300 s, none in the interval of the reset, 60 after it
    assert!(
        close(misfires.cylinders[0].count, 59.0 + 60.0),
        "{misfires:?}"
    );
    assert_eq!(misfires.cylinders[0].counter_high, 559.0);
    assert_eq!(misfires.resets, 1);
}

// A driving cycle ends when the engine is switched off, and its counters with it: 12 after the start are not 2 more than the
// 10 before.
#[test]
fn an_engine_stopped_and_started_begins_to_count_anew() {
    let summary = summary_of(601, |t| {
        let car = match t {
            300.0..320.0 => Car::idling().with(Pid::ENGINE_SPEED, 0.0),
            _ => Car::idling(),
        };
        let counts = |t: f64| match t {
            ..300.0 => vec![(1, 10.0)],
            ..320.0 => vec![(1, 0.0)],
            _ => vec![(1, 12.0 + (t - 320.0) / 5.0)],
        };
        with_counters(car, t, &counts)
    });
    let misfires = summary.misfires.unwrap();
    assert_eq!(misfires.resets, 1);
    // from the first reading after the start to the last, 280 s later
    assert!(close(misfires.cylinders[0].count, 56.0), "{misfires:?}");
    // 295 s before and 280 s after at 12.5 revolutions a second
    assert!(
        (misfires.revolutions - 575.0 * 12.5).abs() < 5.0 * 12.5,
        "{misfires:?}"
    );
}

#[test]
fn a_counter_at_its_end_is_reported() {
    let summary = summary_of(300, |t| {
        with_counters(Car::idling(), t, &|t: f64| {
            vec![(1, (65_500.0 + t).min(65_535.0))]
        })
    });
    assert!(close(summary.misfires.unwrap().cylinders[0].count, 35.0));
    assert!(summary.warnings.contains(&Warning::CounterAtEnd));
}

#[test]
fn a_counter_that_never_moved_is_weak_evidence() {
    let summary = summary_of(300, |t| {
        with_counters(Car::idling(), t, &|_| vec![(1, 0.0), (2, 0.0)])
    });
    assert!(warned(&summary, &Warning::CountersNeverMoved));
}

#[test]
fn the_average_of_ten_cycles_is_kept_apart() {
    let summary = summary_of(60, |_| {
        Car::idling()
            .with_item(Item::monitor(0xA5, 0x0B), 12.0)
            .with_item(Item::monitor(0xA5, CYCLE), 3.0)
            // other tests of the same monitor are no counters
            .with_item(Item::monitor(0xA5, 0x80), 900.0)
    });
    let misfires = summary.misfires.unwrap();
    assert_eq!(misfires.cylinders[0].cylinder, 4);
    assert_eq!(misfires.cylinders[0].average_of_ten, Some(12.0));
    assert_eq!(misfires.cylinders[0].count, 0.0);
}

#[test]
fn bursts_raise_the_dispersion() {
    // every 500 s, 50 at once
    let misfires = idle_with(6001, |t| vec![(1, 50.0 * (t / 500.0).floor())]);
    assert!(misfires.cylinders[0].dispersion > 20.0, "{misfires:?}");
}

#[test]
fn another_rate_in_another_region_is_no_burst() {
    // one in five seconds at idle, ten in five seconds of cruise
    let summary = summary_of(3001, |t| {
        let car = if t < 1500.0 {
            Car::idling()
        } else {
            Car::cruising()
        };
        let count = t.min(1500.0) / 5.0 + 10.0 * (t - 1500.0).max(0.0) / 5.0;
        with_counters(car, t, &|_| vec![(1, count.floor())])
    });
    let dispersion = summary.misfires.unwrap().cylinders[0].dispersion;
    assert!(dispersion < 1.5, "{dispersion}");
}

#[test]
fn what_happens_in_a_hole_is_not_counted() {
    let count = |t: f64| vec![(1, t / 5.0)];
    let mut builder = Builder::new();
    let car = |t: f64| with_counters(Car::idling(), t, &count);
    read(&mut builder, 0..301, 1, car);
    read(&mut builder, 900..1201, 1, car);
    let misfires = builder.finish().misfires.unwrap();
    assert!(close(misfires.cylinders[0].count, 120.0), "{misfires:?}");
    assert!(close(misfires.revolutions, 7500.0), "{misfires:?}");
}

#[test]
fn fuel_cut_is_no_exposure() {
    let summary = summary_of(601, |t| {
        let cut = Car::cruising()
            .with(Pid::FUEL_SYSTEM, 4.0)
            .with(Pid::LOAD, 10.0);
        let car = if (200.0..400.0).contains(&t) {
            cut
        } else {
            Car::cruising()
        };
        let car = car.with(
            Pid::ENGINE_SPEED,
            if t % 2.0 < 1.0 { 2190.0 } else { 2210.0 },
        );
        with_counters(car, t, &|_| vec![(1, 7.0)])
    });
    // 2200 rpm on average for 600 − 200 s
    assert!(close(
        summary.misfires.unwrap().revolutions,
        400.0 * 2200.0 / 60.0
    ));
}

/// Short trim 10 while the counters move (half of each minute), 2 otherwise.
fn trim_in_step(t: f64) -> Car {
    let misfiring = t % 60.0 < 30.0;
    let whole = (t / 60.0).floor() * 30.0;
    let count = whole + (t % 60.0).min(30.0);
    let car = Car::idling().with(Pid::SHORT_TRIM_BANK_1, if misfiring { 10.0 } else { 2.0 });
    with_counters(car, t, &|_| vec![(1, 0.0), (2, count)])
}

#[test]
fn the_trim_without_misfires_is_kept_apart() {
    let summary = summary_of(1200, trim_in_step);
    let trim = only_trim(&summary);
    let (mean, error) = trim.without_misfire.unwrap();
    let expected = 1.05_f64.ln() + 1.02_f64.ln();
    assert!((mean - expected).abs() < 0.005, "{mean} against {expected}");
    assert!(error > 0.0);
    assert!(trim.mean_log > expected + 0.03);
}

#[test]
fn counters_that_move_in_blocks_say_nothing_about_single_seconds() {
    // ten for every block of 80 s, which are 1000 revolutions, told at its end
    let car = |t: f64| {
        let idle = (t / 1200.0).floor() % 2.0 == 0.0;
        let car = if idle {
            Car::idling()
        } else {
            Car::idling().with(Pid::ENGINE_SPEED, 751.0)
        };
        with_counters(car, t, &|t: f64| vec![(1, 10.0 * (t / 80.0).floor())])
    };
    let summary = summary_of(1601, car);
    assert!(warned(&summary, &Warning::CountersInBlocks));
    assert_eq!(only_trim(&summary).without_misfire, None);
    let misfires = summary.misfires.unwrap();
    assert!(close(misfires.cylinders[0].count, 200.0), "{misfires:?}");
    assert!(close(
        misfires.cylinders[0].count_by_region[Region::WarmIdle],
        200.0
    ));
}

/// 30 for every 200 revolutions, told at their end, read every fifth second: at 2400 rpm that is every reading, at idle every
/// third or fourth.
#[test]
fn blocks_are_seen_where_the_engine_runs_fast_and_slow_in_turn() {
    let (fast_s, slow_s) = (30.0, 90.0);
    let revolutions = |t: f64| {
        let (rounds, rest) = ((t / (fast_s + slow_s)).floor(), t % (fast_s + slow_s));
        let slow = (rest - fast_s).max(0.0);
        rounds * (40.0 * fast_s + 12.5 * slow_s) + 40.0 * rest.min(fast_s) + 12.5 * slow
    };
    let car = |t: f64| {
        let car = if t % (fast_s + slow_s) < fast_s {
            Car::idling().with(Pid::ENGINE_SPEED, 2400.0)
        } else {
            Car::idling()
        };
        let counted = 30.0 * (revolutions(t) / 200.0).floor();
        with_counters(car, t, &|_| vec![(1, 0.0), (2, counted)])
    };
    let summary = summary_of(1201, car);
    assert!(warned(&summary, &Warning::CountersInBlocks));
    let without = summary.trims.iter().map(|trim| trim.without_misfire);
    assert!(without.flatten().count() == 0);
}

/// Cylinder 2 counts one in five seconds of an idle at 750 rpm: 16 in 1000 revolutions.
fn one_in_five_seconds(t: f64) -> Car {
    Car::idling().with_item(counter(2), (t / 5.0).floor())
}

#[test]
fn a_logger_that_reads_seldom_counts_the_same_rate() {
    for step in [1, 12, 20, 30, 60] {
        let mut builder = Builder::new();
        for t in (0..3601).step_by(step) {
            read(&mut builder, t..t + 1, 1, one_in_five_seconds);
        }
        let misfires = builder.finish().misfires.unwrap();
        let second = &misfires.cylinders[0];
        // how often it reads is known after five readings
        let known_s = 3600.0 - 5.0 * step as f64;
        assert!(
            misfires.revolutions >= 12.5 * known_s,
            "{step} s: {misfires:?}"
        );
        let per_1000_rev = 1000.0 * second.count / misfires.revolutions;
        assert!(
            (per_1000_rev - 16.0).abs() < 0.1,
            "{step} s: {per_1000_rev}"
        );
        assert_eq!(
            misfires.revolutions_by_region[Region::WarmIdle],
            misfires.revolutions,
            "{step} s"
        );
    }
}

#[test]
fn a_logger_that_reads_more_seldom_than_once_a_minute_counts_nothing() {
    let mut builder = Builder::new();
    for t in (0..7200).step_by(90) {
        read(&mut builder, t..t + 1, 1, one_in_five_seconds);
    }
    let misfires = builder.finish().misfires.unwrap();
    assert_eq!(misfires.cylinders[0].count, 0.0);
    assert!(misfires.revolutions < 1.0, "{misfires:?}");
}

#[test]
fn a_short_hole_counts_by_both_ends_and_in_no_region_where_these_differ() {
    // engine speed is believed for 3 s after its last reading at 299 s and comes back at 309 s
    let summary = summary_of(601, |t| {
        let car = match t {
            ..300.0 => Car::idling(),
            _ => Car::cruising(),
        };
        let car = match t {
            300.0..309.0 => car.without(Pid::ENGINE_SPEED),
            _ => car,
        };
        with_counters(car, t, &|_| vec![(1, 0.0)])
    });
    let misfires = summary.misfires.unwrap();
    let exact = 300.0 * 12.5 + 291.0 * 2200.0 / 60.0;
    let inside = misfires.revolutions - exact;
    // 9 s: up to 4 at the end before, the rest at the mean of 750 and 2200 rpm
    assert!(
        (5.0 * 24.58..9.0 * 24.59).contains(&inside),
        "{inside} revolutions in the hole"
    );
    let in_regions: f64 = misfires.revolutions_by_region.values().sum();
    assert!(
        misfires.revolutions - in_regions > 5.0 * 24.58,
        "{misfires:?}"
    );
}

#[test]
fn counters_read_while_the_engine_speed_is_not_answered_count_nothing() {
    let summary = summary_of(901, |t| match t {
        300.0..600.0 => one_in_five_seconds(t).without(Pid::ENGINE_SPEED),
        _ => one_in_five_seconds(t),
    });
    let misfires = summary.misfires.unwrap();
    let per_1000_rev = 1000.0 * misfires.cylinders[0].count / misfires.revolutions;
    assert!((per_1000_rev - 16.0).abs() < 0.4, "{misfires:?}");
    assert!(misfires.revolutions < 615.0 * 12.5, "{misfires:?}");
}
