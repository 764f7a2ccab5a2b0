//! Weak ignition on one cylinder: misfires that mostly grow with load, because the denser charge
//! needs a higher voltage over the same gap; a cracked boot misfires much the same everywhere. A
//! fouled plug leaks its charge away while the voltage rises slowly and burns itself clean under way,
//! so it misfires at idle and leaves with speed (common practice). The mixture itself is right; only
//! the unburned oxygen moves the correction.

use super::{Assumed, Engine, Model, Place, Prediction, Variant, misfire, model::both};

/// How the share of failing firings goes with the engine's operation.
#[derive(Debug, Clone, Copy)]
pub enum Course {
    /// It grows with the filling: exponent.
    GrowsWithLoad(f64),
    /// It leaves with engine speed: exponent of idle speed over speed.
    LeavesWithSpeed(f64),
}

/// About one in seven leaves with speed (assumed).
const COURSES: &Assumed<Course> = &[
    (0.42, Course::GrowsWithLoad(1.0)),
    (0.26, Course::GrowsWithLoad(2.0)),
    (0.17, Course::GrowsWithLoad(0.0)),
    (0.075, Course::LeavesWithSpeed(1.0)),
    (0.075, Course::LeavesWithSpeed(2.0)),
];

/// Filling of the cylinders at which the stated share of firings fails: light cruise.
const STATED_AT_FILLING: f64 = 0.40;
/// Bounds of the factor by load.
const LOAD_FACTORS: (f64, f64) = (0.25, 3.0);

/// A share `size` of the cylinder's firings fails: at light cruise, or at warm idle where it leaves with
/// speed.
#[derive(Debug)]
pub struct Weak {
    pub course: Course,
    pub oxygen_seen: f64,
}

/// Weak ignition.
pub fn weak() -> Vec<Variant> {
    both(COURSES, misfire::OXYGEN_SEEN, |course, oxygen_seen| Weak {
        course,
        oxygen_seen,
    })
}

impl Model for Weak {
    fn on_the_road(&self, place: Place, failing: f64, engine: Engine<'_>) -> Prediction {
        let (least, most) = LOAD_FACTORS;
        let idle_rpm = engine.idle().rpm;
        let failing = engine.by_region(|point| {
            let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
            let fuller = point.filling / STATED_AT_FILLING;
            let factor = match self.course {
                Course::LeavesWithSpeed(exponent) => slower.powf(exponent),
                Course::GrowsWithLoad(exponent) => fuller.powf(exponent).clamp(least, most),
            };
            (failing * factor).min(1.0)
        });
        Prediction {
            failing,
            ..Prediction::default()
        }
        .with_oxygen(place, engine, self.oxygen_seen)
    }
}
