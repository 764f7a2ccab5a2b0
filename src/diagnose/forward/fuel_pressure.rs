//! Rail pressure off: flow goes with the square root of the pressure across the injector, on all
//! banks alike.
//!
//! A regulator is off everywhere by the same; a weak pump or a blocked filter loses more the more
//! fuel is asked for. A controller that reads the pressure in the rail opens the injectors for longer where
//! it is low, and the corrections hardly move.

use super::{super::engine::ByRegion, Engine, FailingKnown, Point, Prediction, Unknown, Variant};

/// How much of the loss grows in step with the fuel flow; all of it with the flow's square for a filter that lets
/// little through (turbulent flow; shares assumed).
pub const GROWTHS: &[Variant] = &[(0.35, 0.0), (0.3, 0.3), (0.2, 0.8), (0.15, SQUARE)];
const SQUARE: f64 = 2.0;
/// What else happens: nothing (0); the controller makes up for what it reads in the rail (1), where it reads a high pressure, as
/// the sensor is there for that, but pumps and injectors have their ends; or the cylinders starve (2): where much fuel lacks,
/// the trims are too slow or not asked, and all misfire now and then (shares assumed).
pub const WAYS_LOW: &[Variant] = &[(0.4, 0.0), (0.3, MADE_UP), (0.3, STARVES)];
pub const WAYS_HIGH: &[Variant] = &[(0.51, 0.0), (0.49, MADE_UP)];
const MADE_UP: f64 = 1.0;
const STARVES: f64 = 2.0;
/// Share of the firings that fail where a quarter more fuel is needed, from where on, and what is the most (assumed).
const FAILING: f64 = 0.03;
const NEEDED_LOG: f64 = 0.223;
const FAILING_FROM_LOG: f64 = 0.08;
const MOST_FAILING: f64 = 0.2;
/// What is left of the effect where it is made up for.
const LEFT: f64 = 0.15;
/// Most growth of the loss.
const MOST_GROWTH: f64 = 2.5;
const MOST_FLOW: f64 = 3.0;
/// Least pressure ratio that is reckoned with.
const LEAST_RATIO: f64 = 0.05;

/// Pressure is lower by `error` at light cruise.
pub fn low(error: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let ratio_log = |point: &Point| ratio(error, unknown.shape, point, engine).ln();
    off(engine.by_region(ratio_log), unknown, engine)
}

/// Pressure against the right one at a point of operation, when it is lower by `error` at light
/// cruise.
pub fn ratio(error: f64, growth: f64, point: &Point, engine: Engine<'_>) -> f64 {
    let cruise = engine.cruise().air.max(0.1);
    let flow = (point.air / cruise).min(MOST_GROWTH);
    let lost = match growth >= SQUARE {
        true => error * (point.air / cruise).min(MOST_FLOW).powi(2),
        false => error * (1.0 - growth + growth * flow),
    };
    (1.0 - lost).max(LEAST_RATIO)
}

/// Pressure is higher by `error` everywhere.
pub fn high(error: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    off(engine.by_region(|_| error.ln_1p()), unknown, engine)
}

/// Pressure against the right one by region, as a logarithm.
fn off(rail_log: ByRegion, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let left = match engine.reads_high_rail && unknown.way == MADE_UP {
        true => LEFT,
        false => 1.0,
    };
    let mut mixture = engine.each(|_, _| 0.0);
    for regions in mixture.iter_mut().take(engine.banks) {
        *regions = rail_log.map(|log| -0.5 * left * log);
    }
    let failing = match unknown.way == STARVES {
        true => rail_log.map(|log| {
            let lacks = (-0.5 * log - FAILING_FROM_LOG) / (NEEDED_LOG - FAILING_FROM_LOG);
            (FAILING * lacks.max(0.0)).min(MOST_FAILING)
        }),
        false => Default::default(),
    };
    Prediction {
        mixture,
        rail_log,
        failing,
        failing_beside: failing,
        failing_elsewhere: failing,
        failing_known: FailingKnown::Steeply,
        ..Prediction::default()
    }
}
