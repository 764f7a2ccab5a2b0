//! Exhaust faults: air drawn in ahead of the oxygen sensor, or one bank blocked.

use crate::vehicle::AirMetering;

use super::{Assumed, EngineModel, Location, Model, Point, Prediction, Variant, model::each};

/// How the effect of an exhaust leak fades with air flow: exponents of idle's flow over the flow, with their
/// probabilities (assumed; 1 where the same amount of air is drawn in at any flow).
const FADINGS: &Assumed<f64> = &[(0.5, 1.0), (0.3, 0.5), (0.2, 1.6)];

/// How a blocked bank's loss grows with air flow: exponents, with their probabilities. The square for a plain
/// restriction, less where a broken catalyst moves or the other bank takes over (common practice; the probabilities are
/// assumed).
const BLOCKED_GROWTHS: &Assumed<f64> = &[(0.5, 2.0), (0.3, 1.4), (0.2, 2.6)];
/// Air flow, as a multiple of warm idle's, at which a blocked bank has lost the stated share: a hard pull (assumed).
const STATED_AT_AIR: f64 = 9.0;
/// Largest ratio of a blocked bank's loss to the stated loss (assumed).
const MOST_FACTOR: f64 = 1.5;
/// Largest share of its air that a blocked bank may lose, 0 to 1 (assumed).
const MOST_LOSS: f64 = 0.7;

/// An exhaust leak ahead of the oxygen sensor: between the pulses air is drawn in and read as lean, most at low flow.
/// `size` is the logarithm that it adds to the bank's total fuel trim at warm idle, whatever the air metering.
#[derive(Debug)]
struct Leak {
    fading: f64,
}

/// Variants of an exhaust leak ahead of the oxygen sensor.
pub fn leak() -> Vec<Variant> {
    each(FADINGS, |fading| Leak { fading })
}

impl Model for Leak {
    fn on_the_road(&self, location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let mixture = engine.at(location, |_, point| {
            let share = (engine.idle().air / point.air.max(0.1))
                .min(1.5)
                .powf(self.fading);
            (size * share).ln_1p()
        });
        Prediction {
            mixture,
            ..Prediction::default()
        }
    }
}

/// A bank with a blocked exhaust: back pressure grows with about the square of the flow, so this bank takes an ever
/// smaller share of the air and the others more, while the mean stays; each bank receives fuel for an even share.
/// Metered by manifold pressure, the other banks receive the fuel that is computed for them, and only the blocked bank
/// receives too much.
#[derive(Debug)]
struct Blocked {
    growth: f64,
}

/// Variants of one bank's exhaust blocked.
pub fn blocked() -> Vec<Variant> {
    each(BLOCKED_GROWTHS, |growth| Blocked { growth })
}

impl Model for Blocked {
    fn on_the_road(&self, location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let lost = |point: &Point| {
            let flow = point.air / STATED_AT_AIR;
            (size * flow.powf(self.growth).min(MOST_FACTOR)).min(MOST_LOSS)
        };
        let mixture = engine.each(|bank, point| match location.bank {
            None => 0.0,
            Some(meant) if meant == bank => (-lost(point)).ln_1p(),
            Some(_) if engine.config.metering == AirMetering::Map => 0.0,
            Some(meant) => {
                let own = engine.config.share(meant);
                let others = (1.0 - own).max(0.1);
                (lost(point) * own / others).ln_1p()
            }
        });
        Prediction {
            mixture,
            ..Prediction::default()
        }
    }
}
