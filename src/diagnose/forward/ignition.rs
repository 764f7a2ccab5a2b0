//! Weak ignition on one cylinder: misfires that mostly grow with load, because the denser charge needs a higher voltage
//! over the same gap; a cracked boot misfires much the same everywhere. A fouled plug leaks its charge away while the
//! voltage rises slowly and burns itself clean while driving, so it misfires at idle and less at speed (common
//! practice). The mixture itself is right; only the unburned oxygen moves the fuel trim.

use super::{Assumed, EngineModel, Location, Model, Prediction, Variant, misfire, model::both};

/// How the share of failing firings varies with load and speed.
#[derive(Debug, Clone, Copy)]
pub enum Dependence {
    /// Misfires grow with the manifold ratio: exponent.
    GrowsWithLoad(f64),
    /// Misfires fade with engine speed: exponent of idle speed over speed.
    LeavesWithSpeed(f64),
}

/// Courses of weak ignition with their probabilities: about one in seven fades with speed (assumed).
const DEPENDENCES: &Assumed<Dependence> = &[
    (0.42, Dependence::GrowsWithLoad(1.0)),
    (0.26, Dependence::GrowsWithLoad(2.0)),
    (0.17, Dependence::GrowsWithLoad(0.0)),
    (0.075, Dependence::LeavesWithSpeed(1.0)),
    (0.075, Dependence::LeavesWithSpeed(2.0)),
];

/// Manifold ratio at which the stated share of firings fails: light cruise (common practice).
const STATED_AT_RATIO: f64 = 0.40;
/// Lowest and highest factor on the share of failing firings by load (assumed).
const LOAD_FACTORS: (f64, f64) = (0.25, 3.0);

/// A cylinder on which the share `size` of firings fails: at light cruise, or at warm idle where misfires fade with
/// speed.
#[derive(Debug)]
pub struct Weak {
    pub dependence: Dependence,
    pub oxygen_seen: f64,
}

/// Variants of weak ignition on one cylinder.
pub fn weak() -> Vec<Variant> {
    both(
        DEPENDENCES,
        misfire::OXYGEN_SEEN,
        |dependence, oxygen_seen| Weak {
            dependence,
            oxygen_seen,
        },
    )
}

impl Model for Weak {
    fn on_the_road(&self, location: Location, failing: f64, engine: EngineModel<'_>) -> Prediction {
        let (least, most) = LOAD_FACTORS;
        let idle_rpm = engine.idle().rpm;
        let failing = engine.by_region(|point| {
            let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
            let fuller = point.manifold_ratio / STATED_AT_RATIO;
            let factor = match self.dependence {
                Dependence::LeavesWithSpeed(exponent) => slower.powf(exponent),
                Dependence::GrowsWithLoad(exponent) => fuller.powf(exponent).clamp(least, most),
            };
            (failing * factor).min(1.0)
        });
        Prediction {
            failing,
            ..Prediction::default()
        }
        .with_oxygen(location, engine, self.oxygen_seen)
    }
}
