//! Fuel that the injectors do not give, and fuel that is not what the controller expects.
//!
//! A purge valve that hangs open draws on the fuel canister. What the charcoal holds goes with the air drawn through it, much
//! at first and ever less; what the tank makes comes on top. On an empty canister the valve brings air instead, like any
//! other leak into the manifold; pinching the purge line parts the two.

use super::{
    Assumed, Engine, Model, Place, Point, Prediction, TrimEffect, Variant, choked_share,
    intake_leak, model::each,
};
use crate::{series::label::region::ByRegion, vehicle::AirMetering};

/// How vapour fades against the engine's air: exponent. Tank and hose, not only the valve, decide
/// how much vapour there is to draw (common practice).
const FADINGS: &Assumed<f64> = &[(0.5, 1.0), (0.25, 0.7), (0.25, 1.3)];
/// What flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flow {
    /// As much vapour all the time, from a tank that is warm or freshly filled.
    Vapour,
    /// Air, as a canister that is drawn on all the time is emptied within an hour's driving.
    Air,
    /// What the canister held, and less of it from minute to minute.
    Emptying {
        /// In which of [`EMPTIES_S`].
        over: usize,
        /// What comes in the end.
        end: End,
    },
}

const fn emptying(over: usize, end: End) -> Flow {
    Flow::Emptying { over, end }
}

/// Common practice; the shares are assumed. Where the canister empties it matters little how the vapour fades against the
/// engine's air, and the first of [`FADINGS`] must do.
const FLOWS: &Assumed<Flow> = &[
    (0.35, Flow::Vapour),
    (0.20, Flow::Air),
    (0.06, emptying(0, End::Vapour)),
    (0.06, emptying(1, End::Vapour)),
    (0.06, emptying(2, End::Vapour)),
    (0.06, emptying(0, End::Lean)),
    (0.06, emptying(1, End::Lean)),
    (0.06, emptying(2, End::Lean)),
    (0.03, emptying(0, End::Air)),
    (0.03, emptying(1, End::Air)),
    (0.03, emptying(2, End::Air)),
];
/// Seconds after which a third is left of what a canister held: one to three litres of charcoal are down to that after 30 to
/// 60 bed volumes of air, and a valve that stands a quarter to wide open draws 10 to 40 L/min (common practice).
pub const EMPTIES_S: [f64; 3] = [100.0, 300.0, 900.0];
/// What comes when a canister is empty. The stream of a full one holds two to five times the fuel that its own air burns, of
/// an empty one none: one to four parts to the good turn into one lacking (common practice).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// What the tank makes.
    Vapour,
    /// Air, after vapour that outweighed it.
    Lean,
    /// Air, after as much vapour as hid it.
    Air,
}

/// What comes in the end against the beginning: of vapour, and of what an empty canister's air lacks (assumed).
const LEFT: f64 = 0.3;
const LACKING: f64 = 0.35;
/// Most that a canister brings in the beginning against what it brings on an average of the recording (assumed).
const MOST_AT_FIRST: f64 = 3.0;

/// What is left of what a canister held, as a share: means over what was recorded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// While each region was recorded.
    pub by_region: ByRegion<f64>,
    /// Over all of it.
    pub of_all: f64,
}

/// What goes as a canister empties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Emptying {
    /// In which of [`EMPTIES_S`].
    pub over: usize,
    /// y of all banks in the beginning of a recording less y in the end, by region.
    pub by_log: ByRegion<f64>,
}

/// Whether a fuel that is another one came with the refuelling that was recorded, if there was one, and was not in the tank
/// all the time (assumed: as often as not).
const CAME_WITH_REFUELLING: &Assumed<bool> = &[(0.51, false), (0.49, true)];
/// How often a valve that does not shut does not open further either, so that nothing follows the command (common practice:
/// it hangs as often as dirt only keeps it from its seat).
const HANGS: f64 = 0.5;

/// Air that a millilitre of petrol and of ethanol burns, g: 14.7 × 0.745 and 9.0 × 0.789 (mass
/// ratios and densities as commonly tabled).
const PETROL_G_PER_ML: f64 = 14.7 * 0.745;
const ETHANOL_G_PER_ML: f64 = 9.0 * 0.789;
/// Ethanol in ordinary petrol, as a share of volume.
const USUAL_ETHANOL: f64 = 0.10;

/// A purge valve that does not shut: vapour of `size` against the engine's fuel at warm idle, on an average of the recording,
/// or air of `size` against its air, to all banks. It flows like any leak: choked at low manifold pressure, fading against
/// the engine's air.
#[derive(Debug)]
pub struct Purge {
    pub fading: f64,
    pub flow: Flow,
}

/// A purge valve that does not shut.
pub fn purge() -> Vec<Variant> {
    let mut all = Vec::new();
    for (index, (fading_weight, fading)) in FADINGS.iter().enumerate() {
        for (weight, flow) in FLOWS {
            let model = Purge {
                fading: *fading,
                flow: *flow,
            };
            match flow {
                Flow::Vapour | Flow::Air => all.push(Variant::new(fading_weight * weight, model)),
                Flow::Emptying { .. } if index == 0 => all.push(Variant::new(*weight, model)),
                Flow::Emptying { .. } => {}
            }
        }
    }
    all
}

impl Model for Purge {
    fn on_the_road(&self, _place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let purge_hangs = HANGS;
        if self.flow == Flow::Air {
            return Prediction {
                purge_hangs,
                ..intake_leak::leak(Place::default(), size, self.fading, 1.0, engine)
            };
        }
        let idle_share = choked_share(engine.idle().filling).max(0.05);
        let flow = |point: &Point| {
            let flow = choked_share(point.filling) / idle_share;
            size * flow * (engine.idle().air / point.air.max(0.1)).powf(self.fading)
        };
        let trim = |vapour: f64, point: &Point| -(flow(point) * vapour).clamp(-0.5, 0.9).ln_1p();
        let Some((over, [first, last], held)) = self.emptying(engine) else {
            return Prediction {
                mixture: engine.each(|_, point| trim(1.0, point)),
                purge_hangs,
                ..Prediction::default()
            };
        };
        let by_log = engine.by_region(|point| trim(first, point) - trim(last, point));
        let mut mixture = TrimEffect::default();
        for bank in engine.banks() {
            let left = held.by_region.map(|_, held| last + (first - last) * held);
            mixture[bank] = left.map(|region, left| trim(left, &engine.points[region]));
        }
        Prediction {
            mixture,
            metered_log: engine.by_region(|point| (flow(point) * last).clamp(-0.5, 0.0).ln_1p()),
            purge_hangs,
            emptying: Some(Emptying { over, by_log }),
            ..Prediction::default()
        }
    }
}

impl Purge {
    /// In which of the times the canister empties, what comes in the beginning and in the end (below 0 for air that no
    /// meter saw) against the size, and what was still held.
    fn emptying(&self, engine: Engine<'_>) -> Option<(usize, [f64; 2], Held)> {
        let Flow::Emptying { over, end } = self.flow else {
            return None;
        };
        let held = *engine.held?.get(over)?;
        // whatever air comes in, a manifold's pressure sensor sees it
        let seen = engine.setting.metering == AirMetering::Map;
        // against the beginning
        let last = match end {
            End::Vapour => LEFT,
            End::Lean if !seen => -LACKING,
            End::Air if !seen => return Some((over, [0.0, -1.0], held)),
            End::Lean | End::Air => 0.0,
        };
        let mean = last + (1.0 - last) * held.of_all;
        let first = mean.max(MOST_AT_FIRST.recip()).recip();
        Some((over, [first, last * first], held))
    }
}

/// Ethanol in the tank changed by `size` (a share of volume, below 0 for less): ethanol needs
/// more fuel for the same air, everywhere alike. Where it came with a refuelling that was recorded, the
/// fuel trims have it only from then on.
#[derive(Debug)]
struct Blend {
    came_with_refuelling: bool,
}

/// Another fuel blend.
pub fn blend() -> Vec<Variant> {
    each(CAME_WITH_REFUELLING, |came_with_refuelling| Blend {
        came_with_refuelling,
    })
}

impl Model for Blend {
    fn on_the_road(&self, _place: Place, change: f64, engine: Engine<'_>) -> Prediction {
        let burns = |ethanol: f64| PETROL_G_PER_ML * (1.0 - ethanol) + ETHANOL_G_PER_ML * ethanol;
        // with less ethanol than usual in the tank before, a fall starts from more
        let before = USUAL_ETHANOL.max(-change).min(1.0);
        let needed = (burns(before) / burns((before + change).clamp(0.0, 1.0))).ln();
        let mut mixture = engine.each(|_, _| needed);
        let new_fuel = engine.new_fuel.filter(|_| self.came_with_refuelling);
        if let Some(shares) = new_fuel {
            mixture = mixture.map(|_, regions| regions.map(|region, y| y * shares[region]));
        }
        Prediction {
            mixture,
            ethanol_change: change,
            came_with_filling: new_fuel.map(|_| needed),
            follows_closely: true,
            ..Prediction::default()
        }
    }
}
