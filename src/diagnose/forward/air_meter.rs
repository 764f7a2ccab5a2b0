//! An air meter that reads wrong: all banks need the same correction, ln(true air / measured air),
//! constant, growing with the flow or falling with it.
//!
//! Dirt on a hot wire slows the flow that cools it and keeps its own heat: it costs most at high flow, and little
//! at idle, where a dirty wire may even read high (common practice). A pressure sensor that is off by so many kPa is off
//! most where the pressure is lowest, and a flow meter's zero shift or air that passes it by weighs most at low flow.

use crate::vehicle::AirMetering;

use super::{Assumed, Engine, Model, Place, Point, Prediction, Variant, model::each};

/// How the error goes with the flow.
#[derive(Debug, Clone, Copy)]
pub enum Course {
    /// It grows with the logarithm of the flow by this much; from 0.8 on it changes sign at idle.
    Growing(f64),
    /// It falls as much; by manifold pressure this is an offset in kPa.
    Falling(f64),
    /// A shifted zero: as many grams at every flow, most against little air (a ground with resistance). By manifold
    /// pressure an offset in kPa.
    ShiftedZero,
}

/// Of a meter that reads low (shares are assumed).
const COURSES_LOW: &Assumed<Course> = &[
    (0.35, Course::Growing(0.0)),
    (0.22, Course::Growing(0.25)),
    (0.14, Course::Growing(0.55)),
    (0.10, Course::Growing(0.95)),
    (0.15, Course::Falling(0.35)),
    (0.04, Course::ShiftedZero),
];
/// Of one that reads high, which dirt does not do (shares are assumed).
const COURSES_HIGH: &Assumed<Course> = &[
    (0.48, Course::Growing(0.0)),
    (0.3, Course::Growing(0.25)),
    (0.17, Course::Falling(0.35)),
    (0.05, Course::ShiftedZero),
];
/// Bounds of the factor by flow.
const FACTORS: (f64, f64) = (-0.4, 2.0);
/// Most of the factor of a shifted zero, from light cruise to idle.
const MOST_OF_SHIFTED_ZERO: f64 = 6.0;

/// The meter is off by `size` of the truth at light cruise.
#[derive(Debug)]
pub struct Wrong {
    /// −1 where it reads low.
    pub sign: f64,
    pub course: Course,
}

/// The meter reads low.
pub fn reads_low() -> Vec<Variant> {
    each(COURSES_LOW, |course| Wrong { sign: -1.0, course })
}

/// The meter reads high.
pub fn reads_high() -> Vec<Variant> {
    each(COURSES_HIGH, |course| Wrong { sign: 1.0, course })
}

impl Model for Wrong {
    fn on_the_road(&self, _place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let error = self.sign * size;
        let (least, most) = FACTORS;
        let cruise = engine.cruise().air.max(0.1);
        let by_pressure = |point: &Point| engine.cruise().filling / point.filling;
        let read = |point: &Point| {
            let along = (point.air.max(0.1) / cruise).ln();
            let (factor, most) = match (self.course, engine.setting.metering) {
                (Course::Growing(by), _) => (1.0 + by * along, most),
                (Course::Falling(by), AirMetering::Maf) => (1.0 - by * along, most),
                (Course::Falling(_), AirMetering::Map) => (by_pressure(point), most),
                (Course::ShiftedZero, AirMetering::Maf) => {
                    (cruise / point.air.max(0.1), MOST_OF_SHIFTED_ZERO)
                }
                (Course::ShiftedZero, AirMetering::Map) => {
                    (by_pressure(point), MOST_OF_SHIFTED_ZERO)
                }
            };
            (error * factor.clamp(least, most)).max(-0.9).ln_1p()
        };
        Prediction {
            mixture: engine.each(|_, point| -read(point)),
            // a pressure sensor that reads wrong puts the flow reckoned from it wrong by the same
            metered_log: match engine.setting.metering {
                AirMetering::Maf => engine.by_region(read),
                AirMetering::Map => Default::default(),
            },
            ..Prediction::default()
        }
    }
}
