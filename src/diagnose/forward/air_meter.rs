//! An air meter that reads wrong: all banks need the same correction, ln(true air / measured air),
//! constant or growing with the flow (dirt on a hot wire costs most at high flow; common practice).

use super::{Engine, Prediction, Variant};

/// How much of the error grows with the logarithm of the flow.
pub const GROWTHS: &[Variant] = &[(0.6, 0.0), (0.4, 0.25)];
/// Bounds of the growth factor.
const FACTORS: (f64, f64) = (0.4, 1.6);

/// The meter shows 1 + `error` of the truth at light cruise.
pub fn wrong(error: f64, growth: f64, engine: Engine<'_>) -> Prediction {
    let (least, most) = FACTORS;
    let cruise = engine.cruise().air.max(0.1);
    let mixture = engine.each(|_, point| {
        let along = (point.air.max(0.1) / cruise).ln();
        let factor = (1.0 + growth * along).clamp(least, most);
        -(error * factor).max(-0.9).ln_1p()
    });
    Prediction {
        mixture,
        ..Prediction::default()
    }
}
