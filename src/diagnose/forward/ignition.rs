//! Weak ignition on one cylinder: misfires that mostly grow with load, because the denser charge
//! needs a higher voltage over the same gap; a fouled plug or a cracked boot misfires much the same
//! everywhere (common practice). The mixture itself is right; only the unburned oxygen moves the
//! correction.

use super::{Engine, Place, Prediction, Variant};

/// How the share of failing firings grows with the filling: its exponent.
pub const GROWTHS: &[Variant] = &[(0.5, 1.0), (0.3, 2.0), (0.2, 0.0)];

/// Filling of the cylinders at which the stated share of firings fails: light cruise.
const STATED_AT_FILLING: f64 = 0.40;
/// Bounds of the factor by load.
const LOAD_FACTORS: (f64, f64) = (0.25, 3.0);

/// A share `failing` of the cylinder's firings fails at light cruise.
pub fn weak(
    place: Place,
    failing: f64,
    growth: f64,
    oxygen_seen: f64,
    engine: Engine<'_>,
) -> Prediction {
    let (least, most) = LOAD_FACTORS;
    let failing = engine.by_region(|point| {
        let factor = (point.filling / STATED_AT_FILLING)
            .powf(growth)
            .clamp(least, most);
        (failing * factor).min(1.0)
    });
    Prediction {
        failing,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, oxygen_seen)
}
