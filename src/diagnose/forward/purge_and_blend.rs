//! Fuel that does not come from the injectors, and fuel that is not what the controller expects.
//!
//! A purge valve that hangs open draws on the fuel canister. What the charcoal holds leaves with the air drawn through
//! it, much at first and ever less; vapour from the tank adds to it. On an empty canister the valve admits air instead,
//! like any other leak into the manifold; pinching the purge line separates the two.

use super::{
    Assumed, EngineModel, Location, Model, Point, Prediction, TrimEffect, Variant, choked_share,
    intake_leak, model::each,
};
use crate::{series::label::region::ByRegion, vehicle::AirMetering};

/// How vapour fades against the engine's air: exponent. Tank and hose, not only the valve, decide how much vapour there is
/// to draw (common practice), but to assume another course for some cars has earned nothing.
const FADING: f64 = 1.0;
/// What flows through a purge valve that does not shut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PurgeFlow {
    /// A steady flow of vapour, from a tank that is warm or freshly filled.
    Vapour,
    /// Air, as a canister that is drawn on all the time is empty within an hour's driving.
    Air,
    /// The canister's charge, less of it from minute to minute.
    Emptying {
        /// Index of the emptying time in [`EMPTIES_S`].
        over: usize,
        /// What flows in the end.
        end: End,
    },
}

const fn emptying(over: usize, end: End) -> PurgeFlow {
    PurgeFlow::Emptying { over, end }
}

/// What flows through a purge valve that does not shut, with probabilities (common practice; the probabilities are
/// assumed).
const FLOWS: &Assumed<PurgeFlow> = &[
    (0.35, PurgeFlow::Vapour),
    (0.20, PurgeFlow::Air),
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
/// Time constants in seconds after which a third of the canister's charge is left: one to three litres of charcoal are
/// down to that after 30 to 60 bed volumes of air, and a valve that is a quarter to wide open draws 10 to 40 L/min
/// (common practice).
pub const EMPTIES_S: [f64; 3] = [100.0, 300.0, 900.0];
/// What flows once the canister is empty. The stream of a full one holds two to five times the fuel that its own air
/// burns, of an empty one none: an excess of one to four parts turns into a lack of one (common practice).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// Vapour from the tank.
    Vapour,
    /// Air, after vapour that outweighed it.
    Lean,
    /// Air, after an amount of vapour that hid it.
    Air,
}

/// Vapour at the end as a share of that at the beginning, 0 to 1, where the tank goes on making it (assumed).
const LEFT: f64 = 0.3;
/// Fuel that an empty canister's air lacks at the end, as a share of the fuel that a full canister added at the
/// beginning (assumed: within the one to four parts of [`End`]).
const LACKING: f64 = 0.35;
/// Largest ratio of what a canister adds at the beginning to its average over the recording (assumed).
const MOST_AT_FIRST: f64 = 3.0;

/// Share of a canister's charge that is left, 0 to 1: means over the recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CanisterLeft {
    /// Mean while each region was recorded.
    pub by_region: ByRegion<f64>,
    /// Mean over the whole recording.
    pub of_all: f64,
}

/// Change of the fuel trim while a canister empties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Emptying {
    /// Index of the emptying time in [`EMPTIES_S`].
    pub over: usize,
    /// y of all banks at the beginning of a recording less y at the end, by region.
    pub by_log: ByRegion<f64>,
}

/// Whether a different fuel came with the recorded refuelling, rather than being in the tank all the time, with
/// probabilities (assumed: as often as not).
const CAME_WITH_REFUELLING: &Assumed<bool> = &[(0.51, false), (0.49, true)];
/// Probability that a valve that does not shut does not open further either, so that nothing follows the command
/// (common practice: a valve hangs as often as dirt only keeps it off its seat).
const HANGS: f64 = 0.5;

/// Air that a millilitre of petrol burns, g: mass ratio 14.7 times density 0.745 g/mL (as commonly tabled).
const PETROL_G_PER_ML: f64 = 14.7 * 0.745;
/// Air that a millilitre of ethanol burns, g: mass ratio 9.0 times density 0.789 g/mL (as commonly tabled).
const ETHANOL_G_PER_ML: f64 = 9.0 * 0.789;
/// Ethanol in ordinary petrol, as a share of volume (E10).
const USUAL_ETHANOL: f64 = 0.10;

/// A purge valve that does not shut: it admits vapour of the share `size` of the engine's fuel at warm idle, averaged
/// over the recording, or air of the share `size` of the engine's air, to all banks. It flows like any leak: choked at
/// low manifold pressure, fading with air flow.
#[derive(Debug)]
pub struct Purge {
    pub flow: PurgeFlow,
}

/// Variants of a purge valve that does not shut.
pub fn purge() -> Vec<Variant> {
    each(FLOWS, |flow| Purge { flow })
}

impl Model for Purge {
    fn on_the_road(&self, _location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let purge_hangs = HANGS;
        if self.flow == PurgeFlow::Air {
            return Prediction {
                purge_hangs,
                ..intake_leak::leak(Location::default(), size, FADING, 1.0, engine)
            };
        }
        let idle_share = choked_share(engine.idle().manifold_ratio).max(0.05);
        let flow = |point: &Point| {
            let flow = choked_share(point.manifold_ratio) / idle_share;
            size * flow * (engine.idle().air / point.air.max(0.1)).powf(FADING)
        };
        let trim = |vapour: f64, point: &Point| -(flow(point) * vapour).clamp(-0.5, 0.9).ln_1p();
        let Some((over, [first, last], canister_left)) = self.emptying(engine) else {
            return Prediction {
                mixture: engine.each(|_, point| trim(1.0, point)),
                purge_hangs,
                ..Prediction::default()
            };
        };
        let by_log = engine.by_region(|point| trim(first, point) - trim(last, point));
        let mut mixture = TrimEffect::default();
        for bank in engine.banks() {
            let left = canister_left
                .by_region
                .map(|_, canister_left| last + (first - last) * canister_left);
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
    /// Index of the canister's emptying time; what flows at the beginning and in the end as multiples of the size
    /// (below 0 for unmetered air); and the charge that was left. `None` where nothing empties.
    fn emptying(&self, engine: EngineModel<'_>) -> Option<(usize, [f64; 2], CanisterLeft)> {
        let PurgeFlow::Emptying { over, end } = self.flow else {
            return None;
        };
        let canister_left = *engine.canister_left?.get(over)?;
        // whatever air enters, a MAP sensor sees it
        let seen = engine.config.metering == AirMetering::Map;
        // relative to the beginning
        let last = match end {
            End::Vapour => LEFT,
            End::Lean if !seen => -LACKING,
            End::Air if !seen => return Some((over, [0.0, -1.0], canister_left)),
            End::Lean | End::Air => 0.0,
        };
        let mean = last + (1.0 - last) * canister_left.of_all;
        let first = mean.max(MOST_AT_FIRST.recip()).recip();
        Some((over, [first, last * first], canister_left))
    }
}

/// Ethanol in the tank changed by `size` (a share of volume, below 0 for less): ethanol needs more fuel for the same
/// air, everywhere alike. Where it came with a recorded refuelling, the fuel trims show it only from then on.
#[derive(Debug)]
struct Blend {
    came_with_refuelling: bool,
}

/// Variants of a different fuel blend.
pub fn blend() -> Vec<Variant> {
    each(CAME_WITH_REFUELLING, |came_with_refuelling| Blend {
        came_with_refuelling,
    })
}

impl Model for Blend {
    fn on_the_road(&self, _location: Location, change: f64, engine: EngineModel<'_>) -> Prediction {
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
            came_with_refuelling: new_fuel.map(|_| needed),
            follows_closely: true,
            ..Prediction::default()
        }
    }
}
