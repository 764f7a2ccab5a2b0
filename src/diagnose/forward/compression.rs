//! Low compression on one cylinder: the charge has most time to escape at low speed, so the
//! misfires sit at idle and leave as the engine turns faster; a burnt valve leaks at every speed
//! and leaves more slowly (common practice). The mixture itself is right.

use super::{Engine, Place, Prediction, Unknown, Variant};

/// How the misfires leave with engine speed: exponent of idle speed over speed.
pub const FADINGS: &[Variant] = &[(0.6, 2.0), (0.4, 0.7)];

/// How the share of firings that fail at warm idle grows with the loss: a third lost is felt at idle (one in fifty), a half
/// lost misfires plainly (one in seven), with all of it gone nothing burns (common practice); the odds of failing go with the
/// odds of the loss to this power, as even at the loss of so much.
const GROWTH: f64 = 3.0;
const EVEN_AT: f64 = 0.64;
/// Share of that which fails: all of it, or a fifth where the leak has little time, or the controller helps the idle (assumed).
pub const SHARES: &[Variant] = &[(0.55, 1.0), (0.45, 0.2)];
/// The most that is reckoned with.
const MOST_LOSS: f64 = 0.98;

/// A share `loss` of the compression is gone.
pub fn low(place: Place, loss: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let loss = loss.min(MOST_LOSS);
    let odds = (loss / (1.0 - loss) * (1.0 - EVEN_AT) / EVEN_AT).powf(GROWTH);
    let at_idle = unknown.way * odds / (1.0 + odds);
    let idle_rpm = engine.idle().rpm;
    let failing = engine.by_region(|point| {
        let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
        at_idle * slower.powf(unknown.shape)
    });
    Prediction {
        failing,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, unknown.oxygen_seen)
}
