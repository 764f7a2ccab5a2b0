//! The fuel trim during a trip.

use super::*;
use crate::series::{
    label::region::Region,
    summary::{Drift, Stretch},
};

fn only(summary: &Summary) -> &Drift {
    let [drift] = &summary.drift[..] else {
        panic!("one region was visited: {:?}", summary.drift);
    };
    drift
}

/// Idling for this many seconds with a short term trim that follows this law.
fn idling(seconds: u64, short: impl Fn(f64) -> f64) -> Summary {
    summary_of(seconds, |t| {
        Car::idling()
            .with(Pid::LONG_TRIM_BANK_1, 0.0)
            .with(Pid::SHORT_TRIM_BANK_1, short(t))
            .with(Pid::ENGINE_SPEED, 750.0 + (t / 3.0).floor() % 5.0)
    })
}

/// By hand: 2 points a minute over 180 s of stretches of 30 s are 1 point from stretch to stretch.
#[test]
fn stretches_tell_when_what_was_corrected() {
    let drift = idling(180, |t| -10.0 + t / 30.0);
    let stretches = &only(&drift).stretches;
    assert!(stretches.len() >= 5, "{stretches:?}");
    for (one, next) in stretches.iter().zip(&stretches[1..]) {
        assert_eq!(one.seconds, 30.0);
        assert_eq!(next.second - one.second, 30.0);
        let rise = 100.0 * (next.mean_log.exp() - one.mean_log.exp());
        assert!((rise - 1.0).abs() < 0.05, "{rise}");
    }
}

/// However long the trip, memory and summary stay as small, and no second is lost but those of a last stretch cut short.
#[test]
fn stretches_grow_with_the_trip() {
    for hours in [1, 4] {
        let drift = idling(3600 * hours, |_| 3.0);
        let stretches = &only(&drift).stretches;
        assert!((4..=8).contains(&stretches.len()), "{}", stretches.len());
        let seconds: f64 = stretches.iter().map(|stretch| stretch.seconds).sum();
        assert!(seconds > 0.87 * 3600.0 * hours as f64, "{seconds}");
    }
}

#[test]
fn regions_are_kept_apart_with_the_times_at_which_they_were_visited() {
    let summary = summary_of(600, |t| {
        let idles = !(120.0..480.0).contains(&t);
        let car = if idles {
            Car::idling()
        } else {
            Car::cruising()
        };
        let rpm = if idles { 750.0 } else { 2200.0 };
        car.with(Pid::ENGINE_SPEED, rpm + (t / 3.0).floor() % 5.0)
    });
    let times = |region: Region| {
        let here = summary.drift.iter().find(|drift| drift.region == region);
        let second = |stretch: &Stretch| stretch.second;
        here.unwrap()
            .stretches
            .iter()
            .map(second)
            .collect::<Vec<_>>()
    };
    let idle = times(Region::WarmIdle);
    assert!(idle[0] < 60.0 && idle[idle.len() - 1] > 500.0, "{idle:?}");
    let cruise = times(Region::LightCruise);
    assert!(
        cruise.iter().all(|t| (120.0..480.0).contains(t)),
        "{cruise:?}"
    );
}

/// The error follows how far neighbours lie apart, not how far the trip drifts.
#[test]
fn a_slow_drift_is_no_noise() {
    let error = |summary: &Summary| only(summary).stretches[0].std_error_log;
    let still = idling(200, |_| 2.0);
    let drifting = idling(200, |t| t / 20.0);
    let noisy = idling(200, |t| {
        if ((t / 30.0) as u64).is_multiple_of(2) {
            6.0
        } else {
            -6.0
        }
    });
    assert!(error(&drifting) < 2.0 * error(&still));
    assert!(error(&noisy) > 3.0 * error(&still));
}
