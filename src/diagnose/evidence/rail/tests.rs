//! Rail pressure reported by hand-made captures: what it must support and speak against.

use super::*;
use crate::diagnose::engine::Point;

/// Operating points of a usual engine, region by region.
const POINTS: Points = EnumMap::from_array([
    point(1.0, 0.35),
    point(2.4, 0.30),
    point(4.4, 0.50),
    point(9.0, 0.80),
]);

const fn point(air: f64, manifold_ratio: f64) -> Point {
    Point {
        air,
        manifold_ratio,
        rpm: 2000.0,
    }
}

/// A minute at warm idle and one under load.
fn seen(sensor: RailSensor, [idle, loaded]: [f64; 2], commanded: [Option<f64>; 2]) -> Summary {
    let [asked_idle, asked_loaded] = commanded;
    let row = |region, kpa, commanded_kpa| RailPressure {
        sensor,
        region,
        seconds: 60.0,
        kpa,
        commanded_kpa,
    };
    Summary {
        rail: vec![
            row(Region::WarmIdle, idle, asked_idle),
            row(Region::Loaded, loaded, asked_loaded),
        ],
        ..Summary::default()
    }
}

fn with_range() -> Vehicle {
    Vehicle {
        rail_kpa: Some([340.0, 360.0]),
        ..Vehicle::default()
    }
}

/// Gain in log-likelihood of a pressure ratio that is the same everywhere over no fault.
fn gain(summary: &Summary, vehicle: &Vehicle, ratio: f64) -> f64 {
    let rail = RailEvidence::new(std::slice::from_ref(summary), vehicle, &POINTS).unwrap();
    let wrong = Prediction {
        rail_log: ByRegion::from_fn(|_| ratio.ln()),
        ..Prediction::default()
    };
    rail.under(&wrong) - rail.under(&Prediction::default())
}

/// One reading of one way, by hand: 315 of 350 kPa is ln 0.9 = −0.1054; with 0.03 for the region and 0.04 for all it lies
/// 0.1054 / 0.05 = 2.107 standard deviations away: ln 1/0.05 − 2.5 ln(1 + 2.107² / 4) = 2.996 − 1.869.
#[test]
fn a_single_region_is_compared_with_both_spreads() {
    let variant = RailVariant {
        log_weight: 0.0,
        off_log: ByRegion::from_array([Some((315.0_f64 / 350.0).ln()), None, None, None]),
        own: 0.03,
        shared: 0.04,
    };
    let found = variant.log_likelihood(&ByRegion::from_fn(|_| 0.0));
    assert!((found - (2.996 - 1.869)).abs() < 0.002, "{found}");
}

#[test]
fn the_right_pressure_speaks_against_a_wrong_one() {
    let right = seen(RailSensor::Low, [351.0, 348.0], [None; 2]);
    assert!(gain(&right, &with_range(), 0.80) < -2.0);
    assert!(gain(&right, &with_range(), 1.25) < -2.0);
    // a set with a vacuum regulator: 65 kPa less at idle
    let follows = seen(RailSensor::Low, [285.0, 330.0], [None; 2]);
    assert!(gain(&follows, &with_range(), 0.80) < 0.5);
}

#[test]
fn a_pressure_off_its_range_speaks_for_that_much() {
    let low = seen(RailSensor::Low, [282.0, 280.0], [None; 2]);
    assert!(gain(&low, &with_range(), 0.80) > 2.0);
    assert!(gain(&low, &with_range(), 0.80) > gain(&low, &with_range(), 0.60));
    let high = seen(RailSensor::Gauge, [420.0, 420.0], [None; 2]);
    assert!(gain(&high, &with_range(), 1.20) > 2.0);
}

/// Factory sets run from 226 to 425 kPa: 282 may be right for an unknown car.
#[test]
fn without_a_range_only_what_is_far_off_or_gives_way_counts() {
    let unknown = Vehicle::default();
    let still = seen(RailSensor::Low, [282.0, 282.0], [None; 2]);
    assert!(gain(&still, &unknown, 0.80).abs() < 1.0);
    let gives_way = seen(RailSensor::Low, [350.0, 270.0], [None; 2]);
    let rail = RailEvidence::new(&[gives_way], &unknown, &POINTS).unwrap();
    let sagging = Prediction {
        rail_log: ByRegion::from_array([0.97_f64, 0.95, 0.90, 0.76].map(f64::ln)),
        ..Prediction::default()
    };
    let for_the_pump = rail.under(&sagging) - rail.under(&Prediction::default());
    assert!(for_the_pump > 1.0, "{for_the_pump}");
}

/// 350 kPa at the gauge and 65 kPa of vacuum are 415 across the injectors at idle, 20 of vacuum 370 under load.
#[test]
fn a_pressure_against_the_manifold_holds_its_vacuum_too() {
    let across = seen(RailSensor::ToManifold, [415.0, 370.0], [None; 2]);
    assert!(gain(&across, &with_range(), 0.80) < -2.0);
}

#[test]
fn direct_injection_is_compared_with_its_command_alone() {
    let vehicle = Vehicle {
        rail_kpa: Some([4_000.0, 20_000.0]),
        ..Vehicle::default()
    };
    let commanded = [Some(5_000.0), Some(15_000.0)];
    let met = seen(RailSensor::Controlled, [5_020.0, 14_900.0], commanded);
    assert!(gain(&met, &vehicle, 0.80) < -3.0);
    let lacking = seen(RailSensor::Controlled, [4_100.0, 12_000.0], commanded);
    assert!(gain(&lacking, &vehicle, 0.80) > 3.0);
    // without one the level says nothing
    let uncommanded = seen(RailSensor::Gauge, [4_100.0, 12_000.0], [None; 2]);
    assert!(gain(&uncommanded, &vehicle, 0.80).abs() < 1e-3);
}

#[test]
fn what_was_not_reported_says_nothing() {
    assert!(RailEvidence::new(&[Summary::default()], &with_range(), &POINTS).is_none());
    let mut short = seen(RailSensor::Low, [200.0, 200.0], [None; 2]);
    short.rail.iter_mut().for_each(|row| row.seconds = 3.0);
    assert!(RailEvidence::new(&[short], &with_range(), &POINTS).is_none());
}
