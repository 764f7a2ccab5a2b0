//! Why a car is recorded, and so what is wrong with it and how it is driven and watched.

use pintle::simulator::car::Steady;

/// What brings cars before the judgement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Occasion {
    /// Anything: faults from hardly there to gross, any driver, any logger, a vehicle file kept or not.
    Any,
    /// A visit to the workshop: the fault is one that is felt or told by the lamp, the run is the guided one, everything the
    /// car has is asked, its vehicle file is full.
    Visit,
}

/// Change of the correction that brings a car in, as a natural logarithm: the total correction counts as acceptable within
/// 10 % (a trade magazine, 2016).
const FELT_CORRECTION_LOG: f64 = 0.095;
/// Share of all power strokes that fail: from 1 % on the lamp may have to light (13 CCR 1968.2 (e)(3.2.2), from memory).
const FELT_FAILING: f64 = 0.01;

impl Occasion {
    pub const ALL: [Self; 2] = [Self::Any, Self::Visit];

    pub const fn id(self) -> &'static str {
        match self {
            Self::Any => "any",
            Self::Visit => "visit",
        }
    }
}

/// How far above what brings a car in, 1 and more for those that come: the largest of what a fault does anywhere.
pub fn felt(with: &Steady, without: &Steady) -> f64 {
    let banks = with.fuel_trims.iter().zip(&without.fuel_trims);
    let moved = banks.flat_map(|(a, b)| a.iter().zip(b).map(|(a, b)| (a - b).abs()));
    let moved = moved.fold(0.0, f64::max);
    let fails = |steady: &Steady, point: usize| -> f64 {
        let each = steady.failing.iter().map(|(_, share)| share[point]);
        each.sum::<f64>() / steady.failing.len() as f64
    };
    let more = (0..4).map(|point| fails(with, point) - fails(without, point));
    let more = more.fold(0.0, f64::max);
    f64::max(moved / FELT_CORRECTION_LOG, more / FELT_FAILING)
}
