//! One label a moment, the first that applies.

use super::*;

#[test]
fn an_engine_not_yet_started_is_off_and_what_comes_after_counts() {
    let summary = summary_of(30, |t| {
        if t < 10.0 {
            Car::idling()
                .with(Pid::ENGINE_SPEED, 0.0)
                .with(Pid::LOAD, 0.0)
                .with(Pid::MANIFOLD_PRESSURE, 101.0)
        } else {
            Car::idling().with(Pid::MANIFOLD_PRESSURE, 30.0)
        }
    });
    // the load is thrown from 0 to 25: seconds 10 and 11 still see second 9 and before
    assert_eq!(
        labels(&summary),
        [
            (Label::EngineOff, 10.0),
            (Label::Transient, 2.0),
            (Label::Used, 18.0)
        ]
    );
}

#[test]
fn warming_up_lasts_until_the_coolant_stops_climbing() {
    // 1 °C in 10 s from 40 to 88 °C at 480 s; the climb of the last minute has gone at 540 s
    let summary = summary_of(900, |t| {
        Car::idling().with(Pid::COOLANT, (40.0 + (t / 10.0).floor()).min(88.0))
    });
    let cold = summary.seconds.cold;
    assert!((480.0..=550.0).contains(&cold), "{cold}");
    assert_eq!(summary.seconds.used, 900.0 - cold);
}

#[test]
fn coolant_that_is_asked_for_rarely_tells_the_end_of_the_climb_too() {
    // every 97 s: 60, 66, 72, 78 °C at 291 s, and 78 again at 388 s
    let summary = summary_of(900, |t| match t % 97.0 {
        0.0 => Car::idling().with(Pid::COOLANT, (60.0 + 6.0 * t / 97.0).min(78.0)),
        _ => Car::idling().without(Pid::COOLANT),
    });
    let cold = summary.seconds.cold;
    assert!((388.0..=390.0).contains(&cold), "{cold}");
}

#[test]
fn swings_of_the_fan_are_no_warming_up() {
    let summary = summary_of(600, |t| {
        // 95 down to 83 and back within two minutes
        let phase = (t % 120.0) / 60.0;
        let coolant = 95.0 - 12.0 * if phase < 1.0 { phase } else { 2.0 - phase };
        Car::idling().with(Pid::COOLANT, coolant.round())
    });
    assert_eq!(labels(&summary), [(Label::Used, 600.0)]);
}

#[test]
fn a_thermostat_stuck_open_keeps_the_engine_cold() {
    let summary = summary_of(900, |t| {
        Car::idling().with(Pid::COOLANT, 62.0 + (t / 30.0).floor() % 3.0)
    });
    assert_eq!(labels(&summary), [(Label::Cold, 900.0)]);
    assert!(warned(
        &summary,
        &Warning::MuchTime {
            label: Label::Cold,
            seconds: 900.0,
            of_s: 900.0,
        }
    ));
}

#[test]
fn without_a_credible_coolant_running_time_decides() {
    let run_time = |t: f64| Car::idling().with(Pid::RUN_TIME, 400.0 + t);
    for summary in [
        summary_of(500, |t| run_time(t).without(Pid::COOLANT)),
        // an open wire
        summary_of(500, |t| run_time(t).with(Pid::COOLANT, -40.0)),
    ] {
        // 600 s after the start, which was 400 s before the recording
        assert_eq!(
            labels(&summary),
            [(Label::Cold, 200.0), (Label::Used, 300.0)]
        );
        assert!(warned(&summary, &Warning::NoCoolant));
    }
}

#[test]
fn a_coolant_asked_for_twice_a_minute_still_decides() {
    let summary = summary_of(1500, |t| {
        let car = Car::idling().without(Pid::COOLANT);
        if t % 30.0 == 0.0 {
            car.with(Pid::COOLANT, 60.0 + (t / 150.0).floor())
        } else {
            car
        }
    });
    // 70 °C is reached at the end only
    assert_eq!(labels(&summary), [(Label::Cold, 1500.0)]);
}

#[test]
fn a_coolant_that_never_moves_in_ten_minutes_of_running_is_not_believed() {
    let summary = summary_of(1200, |_| Car::idling().with(Pid::COOLANT, 20.0));
    assert!((600.0..=605.0).contains(&summary.seconds.cold));
}

#[test]
fn open_loop_is_what_the_status_says() {
    for (code, label) in [
        (1.0, Label::OpenLoop),
        (4.0, Label::OpenLoop),
        (8.0, Label::OpenLoop),
        (2.0, Label::Used),
        (16.0, Label::Used),
    ] {
        let summary = summary_of(60, |_| Car::cruising().with(Pid::FUEL_SYSTEM, code));
        assert_eq!(labels(&summary), [(label, 60.0)], "code {code}");
    }
}

#[test]
fn status_open_by_load_or_overrun_in_overrun_is_fuel_cut() {
    let summary = summary_of(60, |_| {
        Car::cruising()
            .with(Pid::FUEL_SYSTEM, 4.0)
            .with(Pid::LOAD, 12.0)
    });
    assert_eq!(labels(&summary), [(Label::FuelCut, 60.0)]);
}

#[test]
fn a_commanded_ratio_off_one_is_open_loop_and_a_dead_column_is_none() {
    for (ratio, label) in [
        (0.85, Label::OpenLoop),
        (1.02, Label::OpenLoop),
        (1.005, Label::Used),
        (0.0, Label::Used),
    ] {
        let summary = summary_of(60, |_| Car::cruising().with(Pid::COMMANDED_RATIO, ratio));
        assert_eq!(labels(&summary), [(label, 60.0)], "ratio {ratio}");
    }
}

/// Short trim swings, except between seconds 100 and 110, where it is parked at exactly 0.
fn parked_at_100(t: f64, parked: Car) -> Car {
    let car = parked.without(Pid::FUEL_SYSTEM);
    if (100.0..110.0).contains(&t) {
        car
    } else {
        car.with(
            Pid::SHORT_TRIM_BANK_1,
            if t % 2.0 < 1.0 { 2.3 } else { -1.6 },
        )
    }
}

#[test]
fn without_a_status_a_parked_short_trim_tells_when_there_is_a_reason() {
    let with_load = |load| {
        summary_of(300, |t| {
            parked_at_100(t, Car::cruising().with(Pid::LOAD, load))
        })
    };
    for (load, label) in [(15.0, Label::FuelCut), (95.0, Label::OpenLoop)] {
        assert_eq!(
            labels(&with_load(load)),
            [(label, 10.0), (Label::Used, 290.0)]
        );
    }
    // at middling load 0 is a reading like others
    assert_eq!(labels(&with_load(40.0)), [(Label::Used, 300.0)]);
}

#[test]
fn a_short_trim_parked_for_good_has_no_closed_loop_behind_it() {
    let summary = summary_of(300, |_| Car::idling().without(Pid::FUEL_SYSTEM));
    assert_eq!(
        labels(&summary),
        [(Label::OpenLoop, 240.0), (Label::Used, 60.0)]
    );
}

#[test]
fn a_compressor_cutting_in_at_idle_is_a_transient_of_two_seconds_either_side() {
    let summary = summary_of(300, |t| {
        Car::idling().with(Pid::LOAD, if t < 100.0 { 26.0 } else { 37.0 })
    });
    // seconds 98, 99, 100, 101 see both loads
    assert_eq!(
        labels(&summary),
        [(Label::Transient, 4.0), (Label::Used, 296.0)]
    );
}

#[test]
fn pulling_away_is_a_transient_while_the_speed_moves() {
    // 0 to 80 km/h between 100 and 120 s: 4 km/h a second, 16 within the window
    let summary = summary_of(300, |t| {
        let speed = ((t - 100.0) * 4.0).clamp(0.0, 80.0);
        Car::cruising()
            .with(Pid::VEHICLE_SPEED, speed)
            .with(Pid::ENGINE_SPEED, 2000.0 + t % 7.0)
    });
    // a window that holds more than 10 km/h of change: three steps, seconds 101 to 119
    assert_eq!(summary.seconds.transient, 19.0);
}

#[test]
fn readings_that_stop_are_believed_for_three_intervals_then_stale() {
    let mut builder = Builder::new();
    read(&mut builder, 0..100, 1, |_| Car::idling());
    read(&mut builder, 160..200, 1, |_| Car::idling());
    let summary = builder.finish();
    // the reading at 99 s holds through the moments that end at 101 and 102 s
    assert_eq!(
        labels(&summary),
        [(Label::Stale, 58.0), (Label::Used, 142.0)]
    );
}

#[test]
fn a_pause_of_a_day_is_stale_and_costs_no_time() {
    let day = 86_400;
    let mut builder = Builder::new();
    read(&mut builder, 0..100, 1, |_| Car::idling());
    read(&mut builder, day..day + 100, 1, |_| Car::idling());
    let summary = builder.finish();
    assert_eq!(summary.seconds.total, day as f64 + 100.0);
    assert_eq!(summary.seconds.used, 202.0);
}

#[test]
fn a_frozen_engine_speed_is_implausible_once_the_rest_has_moved() {
    let summary = summary_of(300, |t| {
        Car::cruising().with(Pid::VEHICLE_SPEED, 60.0 + (t / 2.0).floor())
    });
    // the speed has gone further than 20 km/h at 42 s; engine speed has not followed for a minute at 102 s
    assert_eq!(
        labels(&summary),
        [(Label::Implausible, 198.0), (Label::Used, 102.0)]
    );
}

#[test]
fn values_outside_physics_are_implausible() {
    for (pid, value) in [
        (Pid::ENGINE_SPEED, 16_383.75),
        (Pid::LOAD, 130.0),
        (Pid::MANIFOLD_PRESSURE, 0.0),
    ] {
        let summary = summary_of(60, |_| Car::cruising().with(pid, value));
        assert_eq!(
            labels(&summary),
            [(Label::Implausible, 60.0)],
            "{pid} {value}"
        );
    }
}

#[test]
fn a_clearing_just_before_keeps_moments_aside_until_long_trim_has_settled() {
    let long_trim = |t: f64| match t {
        t if t < 600.0 => 0.0,
        t if t < 1200.0 => (t - 600.0) / 100.0,
        _ => 6.0,
    };
    let car = |t: f64, minutes: f64| {
        Car::cruising()
            .with(Pid::TIME_SINCE_CLEAR, minutes + (t / 60.0).floor())
            .with(Pid::LONG_TRIM_BANK_1, long_trim(t))
    };
    let summary = summary_of(3000, |t| car(t, 3.0));
    let aside = summary.seconds.relearn;
    // until the ramp is over, and until its last eight pieces of 30 s show no more of it
    assert!((1200.0..=1500.0).contains(&aside), "{aside}");
    assert_eq!(summary.seconds.used, 3000.0 - aside);
    assert!((only_trim(&summary).mean_log - 1.06_f64.ln()).abs() < 1e-9);
    assert_eq!(summary.relearning.len(), 1);
    assert!(warned(
        &summary,
        &Warning::Relearning {
            minutes_since_clear: Some(3.0),
            aside_s: aside,
        }
    ));
    // the same long ago: nothing is kept aside
    let summary = summary_of(3000, |t| car(t, 5000.0));
    assert_eq!(labels(&summary), [(Label::Used, 3000.0)]);
}

/// Short trim makes up for what long trim has not learned: 5 % more of the one for 5 % less of the other.
#[test]
fn what_was_read_while_long_trim_settled_is_best_known_where_nothing_else_is() {
    let summary = summary_of(600, |t| {
        let long = (0.02 * t).min(10.0);
        let short = 100.0 * (1.12 / (1.0 + long / 100.0) - 1.0);
        Car::cruising()
            .with(Pid::TIME_SINCE_CLEAR, 2.0 + (t / 60.0).floor())
            .with(Pid::SHORT_TRIM_BANK_1, short)
            .with(Pid::LONG_TRIM_BANK_1, long)
    });
    assert!(summary.trims.is_empty(), "{:?}", summary.trims);
    let known = summary.fuel_trims();
    let [only] = &known[..] else {
        panic!("{known:?}");
    };
    assert!((only.mean_log - 1.12_f64.ln()).abs() < 0.003, "{only:?}");
    assert!(only.std_error_log > summary.relearning[0].std_error_log);
    assert_eq!(summary.facts.banks, 1);
}

#[test]
fn a_clearing_some_hours_ago_with_a_settled_trim_counts_at_once() {
    let summary = summary_of(900, |t| {
        Car::cruising().with(Pid::TIME_SINCE_CLEAR, 332.0 + (t / 60.0).floor())
    });
    assert_eq!(labels(&summary), [(Label::Used, 900.0)]);
}
