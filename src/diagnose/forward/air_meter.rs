//! An air meter that reads wrong: all banks need the same correction, ln(true air / measured air),
//! constant, growing with the flow or falling with it.
//!
//! Dirt on a hot wire slows the flow that cools it and keeps its own heat: it costs most at high flow, and little
//! at idle, where a dirty wire may even read high (common practice). A pressure sensor that is off by so many kPa is off
//! most where the pressure is lowest, and a flow meter's zero shift or air that passes it by weighs most at low flow.

use crate::vehicle::AirMetering;

use super::{Engine, Point, Prediction, Variant};

/// How much of the error grows with the logarithm of the flow. A growth below 0 means, by pressure, an
/// offset in kPa. Shares are assumed; from 0.8 on the error changes sign at idle.
pub const GROWTHS_LOW: &[Variant] = &[
    (0.35, 0.0),
    (0.22, 0.25),
    (0.14, 0.55),
    (0.10, 0.95),
    (0.15, -0.35),
    (0.04, OFFSET),
];
/// The same of one that reads high, which dirt does not do.
pub const GROWTHS_HIGH: &[Variant] = &[(0.48, 0.0), (0.3, 0.25), (0.17, -0.35), (0.05, OFFSET)];
/// A meter with a shifted zero: so much at every flow, most against little air (a ground with resistance; share assumed).
const OFFSET: f64 = -1.0;
/// Bounds of the growth factor.
const FACTORS: (f64, f64) = (-0.4, 2.0);
/// The same of an offset, from light cruise to idle.
const MOST_OF_OFFSET: f64 = 6.0;

/// The meter shows 1 + `error` of the truth at light cruise.
pub fn wrong(error: f64, growth: f64, engine: Engine<'_>) -> Prediction {
    let (least, most) = FACTORS;
    let cruise = engine.cruise().air.max(0.1);
    let read = |point: &Point| {
        let along = (point.air.max(0.1) / cruise).ln();
        let factor = match engine.setting.metering {
            AirMetering::Map if growth < 0.0 => engine.cruise().filling / point.filling,
            AirMetering::Maf if growth <= OFFSET => cruise / point.air.max(0.1),
            _ => 1.0 + growth * along,
        };
        let most = if growth <= OFFSET {
            MOST_OF_OFFSET
        } else {
            most
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
