//! Low compression on one cylinder: the charge has most time to escape at low speed, so the
//! misfires sit at idle and leave as the engine turns faster; a burnt valve leaks at every speed
//! and leaves more slowly (common practice). The mixture itself is right.

use super::{Engine, Place, Prediction, Variant};

/// How the misfires leave with engine speed: exponent of idle speed over speed.
pub const FADINGS: &[Variant] = &[(0.6, 2.0), (0.4, 0.7)];

/// Share of firings that fail at warm idle with all compression gone, and how it grows with the
/// loss: a third lost is felt at idle, a half lost misfires plainly (common practice).
const FAILING_AT_IDLE: f64 = 0.2;
const GROWTH: i32 = 2;

/// A share `loss` of the compression is gone.
pub fn low(
    place: Place,
    loss: f64,
    fading: f64,
    oxygen_seen: f64,
    engine: Engine<'_>,
) -> Prediction {
    let at_idle = FAILING_AT_IDLE * loss.powi(GROWTH);
    let idle_rpm = engine.idle().rpm;
    let failing = engine.by_region(|point| {
        let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
        at_idle * slower.powf(fading)
    });
    Prediction {
        failing,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, oxygen_seen)
}
