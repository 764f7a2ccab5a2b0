//! Low compression on one cylinder: the charge has most time to escape at low speed, so the
//! misfires sit at idle and leave as the engine turns faster; a burnt valve leaks at every speed
//! and leaves more slowly (common practice). The mixture itself is right.

use super::{
    Assumed, Engine, Model, OnTheBench, Place, Prediction, Variant,
    bench::LEAST,
    misfire,
    model::{NOTHING, combined},
};

/// How the misfires leave with engine speed: exponent of idle speed over speed.
const FADINGS: &Assumed<f64> = &[(0.6, 2.0), (0.4, 0.7)];

/// How the share of firings that fail at warm idle grows with the loss: a third lost is felt at idle (one in fifty), a half
/// lost misfires plainly (one in seven), with all of it gone nothing burns (common practice); the odds of failing go with the
/// odds of the loss to this power, as even at the loss of so much.
const GROWTH: f64 = 3.0;
const EVEN_AT: f64 = 0.64;
/// Share of that which fails: all of it, or a fifth where the leak has little time, or the controller helps the idle (assumed).
const SHARES: &Assumed<f64> = &[(0.55, 1.0), (0.45, 0.2)];
/// The most that is reckoned with.
const MOST_LOSS: f64 = 0.98;

/// A share `size` of the compression is gone.
#[derive(Debug)]
struct Low {
    fading: f64,
    share: f64,
    oxygen_seen: f64,
}

/// Low compression.
pub fn low() -> Vec<Variant> {
    combined(
        FADINGS,
        SHARES,
        misfire::OXYGEN_SEEN_OF_FEW,
        NOTHING,
        |fading, share, oxygen_seen, ()| Low {
            fading,
            share,
            oxygen_seen,
        },
    )
}

impl Model for Low {
    fn on_the_road(&self, place: Place, loss: f64, engine: Engine<'_>) -> Prediction {
        let loss = loss.min(MOST_LOSS);
        let odds = (loss / (1.0 - loss) * (1.0 - EVEN_AT) / EVEN_AT).powf(GROWTH);
        let at_idle = self.share * odds / (1.0 + odds);
        let idle_rpm = engine.idle().rpm;
        let failing = engine.by_region(|point| {
            let slower = (idle_rpm / point.rpm.max(1.0)).min(1.0);
            at_idle * slower.powf(self.fading)
        });
        Prediction {
            failing,
            ..Prediction::default()
        }
        .with_oxygen(place, engine, self.oxygen_seen)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        loss: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        OnTheBench {
            power: (1.0 - loss).max(LEAST) * sound.power,
            ..sound
        }
    }
}
