//! Rail pressure off: flow goes with the square root of the pressure across the injector, on all
//! banks alike.
//!
//! A regulator is off everywhere by the same; a weak pump or a blocked filter loses more the more
//! fuel is asked for.

use super::{Engine, Point, Prediction, Variant};

/// How much of the loss grows in step with the fuel flow.
pub const GROWTHS: &[Variant] = &[(0.4, 0.0), (0.35, 0.3), (0.25, 0.8)];
/// Most growth of the loss.
const MOST_GROWTH: f64 = 2.5;
/// Least pressure ratio that is reckoned with.
const LEAST_RATIO: f64 = 0.05;

/// Pressure is lower by `error` at light cruise.
pub fn low(error: f64, growth: f64, engine: Engine<'_>) -> Prediction {
    let ratio_log = |point: &Point| ratio(error, growth, point, engine).ln();
    Prediction {
        mixture: engine.each(|_, point| -0.5 * ratio_log(point)),
        rail_log: engine.by_region(ratio_log),
        ..Prediction::default()
    }
}

/// Pressure against the right one at a point of operation, when it is lower by `error` at light
/// cruise.
pub fn ratio(error: f64, growth: f64, point: &Point, engine: Engine<'_>) -> f64 {
    let cruise = engine.cruise().air.max(0.1);
    let flow = (point.air / cruise).min(MOST_GROWTH);
    let lost = error * (1.0 - growth + growth * flow);
    (1.0 - lost).max(LEAST_RATIO)
}

/// Pressure is higher by `error` everywhere.
pub fn high(error: f64, engine: Engine<'_>) -> Prediction {
    Prediction {
        mixture: engine.each(|_, _| -0.5 * error.ln_1p()),
        rail_log: engine.by_region(|_| error.ln_1p()),
        ..Prediction::default()
    }
}
