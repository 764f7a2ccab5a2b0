//! Low compression on one cylinder: at low speed the charge has most time to escape, so the cylinder misfires at idle
//! and less as the engine turns faster (common practice). The mixture itself is right.

use super::{
    Assumed, EngineModel, Location, Model, OnTheBench, Prediction, Variant, bench::LEAST, misfire,
    model::both,
};

/// How misfires fade with engine speed: exponent of idle speed over speed (assumed: 2 where only time to escape matters;
/// a burnt valve, which leaks at every speed, has less, but to assume it for some cars has earned nothing).
const FADING: f64 = 2.0;

/// Power with which the odds of a failed firing at warm idle grow with the odds of the compression loss: a third lost
/// is noticeable at idle (one firing in fifty fails), a half lost misfires plainly (one in seven), with all of it lost
/// nothing burns (common practice).
const GROWTH: f64 = 3.0;
/// Share of the compression lost, 0 to 1, at which every second firing at warm idle fails (fitted to the common
/// practice that [`GROWTH`] states).
const EVEN_AT: f64 = 0.64;
/// Factors on the share of failing firings, with their probabilities: all of it, or a fifth where the leak has little
/// time or the controller stabilises the idle (assumed).
const SHARES: &Assumed<f64> = &[(0.55, 1.0), (0.45, 0.2)];
/// Largest share of the compression lost that is considered (assumed; it keeps the odds finite).
const MOST_LOSS: f64 = 0.98;

/// A cylinder that has lost the share `size` of its compression.
#[derive(Debug)]
struct Low {
    share: f64,
    oxygen_seen: f64,
}

/// Variants of low compression on one cylinder.
pub fn low() -> Vec<Variant> {
    both(SHARES, misfire::OXYGEN_SEEN_OF_FEW, |share, oxygen_seen| {
        Low { share, oxygen_seen }
    })
}

impl Model for Low {
    fn on_the_road(&self, location: Location, loss: f64, engine: EngineModel<'_>) -> Prediction {
        let loss = loss.min(MOST_LOSS);
        let odds = (loss / (1.0 - loss) * (1.0 - EVEN_AT) / EVEN_AT).powf(GROWTH);
        let at_idle = self.share * odds / (1.0 + odds);
        let idle_rpm = engine.idle().rpm;
        let failing = engine.by_region(|point| {
            let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
            at_idle * slower.powf(FADING)
        });
        Prediction {
            failing,
            ..Prediction::default()
        }
        .with_oxygen(location, engine, self.oxygen_seen)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        loss: f64,
        _engine: EngineModel<'_>,
    ) -> OnTheBench {
        OnTheBench {
            power: (1.0 - loss).max(LEAST) * sound.power,
            ..sound
        }
    }
}
