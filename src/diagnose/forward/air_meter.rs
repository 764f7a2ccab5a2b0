//! An air meter that reads wrong: all banks need the same correction, ln(true air / measured air),
//! constant or growing with the flow (dirt on a hot wire costs most at high flow; common practice).

use crate::vehicle::AirMetering;

use super::{Engine, Point, Prediction, Variant};

/// How much of the error grows with the logarithm of the flow.
pub const GROWTHS: &[Variant] = &[(0.6, 0.0), (0.4, 0.25)];
/// Bounds of the growth factor.
const FACTORS: (f64, f64) = (0.4, 1.6);

/// The meter shows 1 + `error` of the truth at light cruise.
pub fn wrong(error: f64, growth: f64, engine: Engine<'_>) -> Prediction {
    let (least, most) = FACTORS;
    let cruise = engine.cruise().air.max(0.1);
    let read = |point: &Point| {
        let along = (point.air.max(0.1) / cruise).ln();
        let factor = (1.0 + growth * along).clamp(least, most);
        (error * factor).max(-0.9).ln_1p()
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
