//! The load that an engine reports at full throttle.

use pintle_protocol::Pid;

use super::{Car, summary_of};

/// A warm engine cruises for a minute, pulls for `seconds` as told, and cruises again.
fn pulling(seconds: f64, pull: impl Fn() -> Car) -> Option<f64> {
    let trip = |t: f64| {
        if t >= 60.0 && t < 60.0 + seconds {
            pull()
        } else {
            Car::cruising()
        }
    };
    summary_of(120, trip).facts.full_load_pct
}

/// Open loop for power, by the status of the fuel system (PID 03, value 4).
fn enriched(load_pct: f64) -> Car {
    let car = Car::cruising().with(Pid::ENGINE_SPEED, 3500.0);
    car.with(Pid::LOAD, load_pct).with(Pid::FUEL_SYSTEM, 4.0)
}

#[test]
fn the_highest_load_under_full_throttle_is_kept() {
    assert_eq!(pulling(6.0, || enriched(74.0)), Some(74.0));
    let wide_open = || Car::cruising().with(Pid::LOAD, 92.0);
    let wide_open = || wide_open().with(Pid::THROTTLE, 81.0);
    assert_eq!(pulling(20.0, wide_open), Some(92.0));
}

#[test]
fn a_single_second_coasting_and_a_cold_engine_do_not_count() {
    assert_eq!(pulling(1.0, || enriched(74.0)), None);
    // coasting is open loop too
    assert_eq!(pulling(6.0, || enriched(12.0)), None);
    let cold = |_| enriched(74.0).with(Pid::COOLANT, 20.0);
    assert_eq!(summary_of(60, cold).facts.full_load_pct, None);
    assert_eq!(pulling(6.0, Car::cruising), None);
}
