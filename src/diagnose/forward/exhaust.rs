//! Exhaust: air drawn in ahead of the sensor, or one bank blocked.

use crate::vehicle::AirMetering;

use super::{Assumed, Engine, Model, Place, Point, Prediction, Variant, model::each};

/// How a leak ahead of the sensor fades with air flow: exponent of idle's flow over the flow.
const FADINGS: &Assumed<f64> = &[(0.5, 1.0), (0.3, 0.5), (0.2, 1.6)];

/// How a blocked bank's loss grows with the flow: exponent. The square for a plain restriction, less
/// where a broken catalyst moves or the other bank takes over (common practice).
const BLOCKED_GROWTHS: &Assumed<f64> = &[(0.5, 2.0), (0.3, 1.4), (0.2, 2.6)];
/// Air flow, against warm idle's, at which a blocked bank loses its stated share: a hard pull.
const STATED_AT_AIR: f64 = 9.0;
/// Bounds of the loss.
const MOST_FACTOR: f64 = 1.5;
const MOST_LOSS: f64 = 0.7;

/// A leak ahead of the sensor: between the pulses air is drawn in and read as lean, most at low
/// flow. `size` is what it adds to the bank's total fuel trim at warm idle, whatever the air metering.
#[derive(Debug)]
struct Leak {
    fading: f64,
}

/// An exhaust leak ahead of the sensor.
pub fn leak() -> Vec<Variant> {
    each(FADINGS, |fading| Leak { fading })
}

impl Model for Leak {
    fn on_the_road(&self, place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let mixture = engine.at(place, |_, point| {
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

/// One bank cannot empty itself: back pressure grows with about the square of the flow, so it breathes
/// less and less of the air, the others more, while the mean stays; each is fed for its even share.
/// Metered by manifold pressure, the other banks get what is reckoned for them, and only the
/// blocked bank is fed too much.
#[derive(Debug)]
struct Blocked {
    growth: f64,
}

/// One bank's exhaust blocked.
pub fn blocked() -> Vec<Variant> {
    each(BLOCKED_GROWTHS, |growth| Blocked { growth })
}

impl Model for Blocked {
    fn on_the_road(&self, place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let lost = |point: &Point| {
            let flow = point.air / STATED_AT_AIR;
            (size * flow.powf(self.growth).min(MOST_FACTOR)).min(MOST_LOSS)
        };
        let mixture = engine.each(|bank, point| match place.bank {
            None => 0.0,
            Some(meant) if meant == bank => (-lost(point)).ln_1p(),
            Some(_) if engine.setting.metering == AirMetering::Map => 0.0,
            Some(meant) => {
                let own = engine.setting.share(meant);
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
