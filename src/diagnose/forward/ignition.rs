//! Weak ignition on one cylinder: misfires that mostly grow with load, because the denser charge
//! needs a higher voltage over the same gap; a cracked boot misfires much the same everywhere. A
//! fouled plug leaks its charge away while the voltage rises slowly and burns itself clean under way,
//! so it misfires at idle and leaves with speed (common practice). The mixture itself is right; only
//! the unburned oxygen moves the correction.

use super::{Engine, Place, Prediction, Variant};

/// How the share of failing firings grows with the filling: its exponent. Below 0 it leaves with
/// engine speed instead: minus the exponent of idle speed over speed. About one in seven is of that
/// kind (assumed).
pub const GROWTHS: &[Variant] = &[
    (0.42, 1.0),
    (0.26, 2.0),
    (0.17, 0.0),
    (0.075, -1.0),
    (0.075, -2.0),
];

/// Filling of the cylinders at which the stated share of firings fails: light cruise.
const STATED_AT_FILLING: f64 = 0.40;
/// Bounds of the factor by load.
const LOAD_FACTORS: (f64, f64) = (0.25, 3.0);

/// A share `failing` of the cylinder's firings fails: at light cruise, or at warm idle where it leaves with
/// speed.
pub fn weak(
    place: Place,
    failing: f64,
    growth: f64,
    oxygen_seen: f64,
    engine: Engine<'_>,
) -> Prediction {
    let (least, most) = LOAD_FACTORS;
    let idle_rpm = engine.idle().rpm;
    let failing = engine.by_region(|point| {
        let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
        let fuller = point.filling / STATED_AT_FILLING;
        let factor = match growth < 0.0 {
            true => slower.powf(-growth),
            false => fuller.powf(growth).clamp(least, most),
        };
        (failing * factor).min(1.0)
    });
    Prediction {
        failing,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, oxygen_seen)
}
