//! A MAF or MAP sensor that reads wrong: all banks need the same fuel trim, ln(true air / measured air), which is
//! constant, grows with the air flow or falls with it.
//!
//! Dirt on a hot wire slows the flow that cools it and keeps its own heat: the error is largest at high flow and small
//! at idle, where a dirty wire may even read high (common practice). The relative error of a pressure sensor with an
//! offset in kPa is largest where the pressure is lowest; a MAF sensor's zero shift, or air that bypasses the sensor,
//! weighs most at low flow.

use crate::vehicle::AirMetering;

use super::{Assumed, EngineModel, Location, Model, Point, Prediction, Variant, model::each};

/// How the sensor's error varies with the air flow.
#[derive(Debug, Clone, Copy)]
pub enum ErrorCurve {
    /// The error grows by this factor with the natural logarithm of the air flow; from 0.8 on it changes sign at idle.
    Growing(f64),
    /// The error falls by this factor with the natural logarithm of the air flow; by manifold pressure it is an offset
    /// in kPa.
    Falling(f64),
    /// A shifted zero: the same error in grams per second at every flow, largest relative to little air (for example a
    /// ground with resistance). By manifold pressure an offset in kPa.
    ShiftedZero,
}

/// Courses of a sensor that reads low, with their probabilities (assumed).
const CURVES_LOW: &Assumed<ErrorCurve> = &[
    (0.35, ErrorCurve::Growing(0.0)),
    (0.22, ErrorCurve::Growing(0.25)),
    (0.14, ErrorCurve::Growing(0.55)),
    (0.10, ErrorCurve::Growing(0.95)),
    (0.15, ErrorCurve::Falling(0.35)),
    (0.04, ErrorCurve::ShiftedZero),
];
/// Courses of a sensor that reads high, which dirt does not cause, with their probabilities (assumed).
const CURVES_HIGH: &Assumed<ErrorCurve> = &[
    (0.48, ErrorCurve::Growing(0.0)),
    (0.3, ErrorCurve::Growing(0.25)),
    (0.17, ErrorCurve::Falling(0.35)),
    (0.05, ErrorCurve::ShiftedZero),
];
/// Lowest and highest factor on the sensor's error by flow (assumed).
const FACTORS: (f64, f64) = (-0.4, 2.0);
/// Largest ratio of a shifted zero's relative error at idle to that at light cruise (assumed).
const MOST_OF_SHIFTED_ZERO: f64 = 6.0;

/// A sensor whose reading is off by the share `size` of the truth at light cruise.
#[derive(Debug)]
pub struct Wrong {
    /// −1 where the sensor reads low, 1 where it reads high.
    pub sign: f64,
    pub curve: ErrorCurve,
}

/// Variants of a sensor that reads low.
pub fn reads_low() -> Vec<Variant> {
    each(CURVES_LOW, |curve| Wrong { sign: -1.0, curve })
}

/// Variants of a sensor that reads high.
pub fn reads_high() -> Vec<Variant> {
    each(CURVES_HIGH, |curve| Wrong { sign: 1.0, curve })
}

impl Model for Wrong {
    fn on_the_road(&self, _location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let error = self.sign * size;
        let (least, most) = FACTORS;
        let cruise = engine.cruise().air.max(0.1);
        let by_pressure = |point: &Point| engine.cruise().manifold_ratio / point.manifold_ratio;
        let read = |point: &Point| {
            let along = (point.air.max(0.1) / cruise).ln();
            let (factor, most) = match (self.curve, engine.config.metering) {
                (ErrorCurve::Growing(by), _) => (1.0 + by * along, most),
                (ErrorCurve::Falling(by), AirMetering::Maf) => (1.0 - by * along, most),
                (ErrorCurve::Falling(_), AirMetering::Map) => (by_pressure(point), most),
                (ErrorCurve::ShiftedZero, AirMetering::Maf) => {
                    (cruise / point.air.max(0.1), MOST_OF_SHIFTED_ZERO)
                }
                (ErrorCurve::ShiftedZero, AirMetering::Map) => {
                    (by_pressure(point), MOST_OF_SHIFTED_ZERO)
                }
            };
            (error * factor.clamp(least, most)).max(-0.9).ln_1p()
        };
        Prediction {
            mixture: engine.each(|_, point| -read(point)),
            // a pressure sensor that reads wrong puts the air flow computed from it wrong by the same ratio
            metered_log: match engine.config.metering {
                AirMetering::Maf => engine.by_region(read),
                AirMetering::Map => Default::default(),
            },
            ..Prediction::default()
        }
    }
}
