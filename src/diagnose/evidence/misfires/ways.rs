//! Counting ways of a whole car: how often its healthy cylinders misfire and where, or what it misattributes to the
//! neighbours of a cylinder that fails plainly. All cylinders of a car share one way.

use std::array;

use crate::{diagnose::healthy, series::label::region::Region, statistics::density::log_mixture};

/// Number of pieces of the exposure: the regions, what lies outside them, and earlier trips.
pub const PIECES: usize = Region::ALL.len() + 2;
/// Number of rate patterns that healthy cylinders may have, as array length.
pub const RATES: usize = healthy::MISFIRE_RATES.len() * healthy::MISFIRES_WHERE.len();
/// Misattribution of a plainly failing cylinder's misfires: probability of such a car, and the share of the misfires
/// that each of some other cylinders receives (assumed: a single-cylinder finding may leave a tenth to all others, 13
/// CCR 1968.2 (e)(3.1.3)).
pub const MISATTRIBUTED: [(f64, f64); 3] = [(0.08, 0.003), (0.06, 0.015), (0.04, 0.06)];

/// A value for each rate that healthy cylinders of a car may have.
pub type ByRate = [f64; RATES];

/// Misfires of a healthy cylinder per revolution: by region, elsewhere, and on a mixed drive.
pub type HealthyRate = [f64; PIECES];

/// Every rate pattern of a healthy car with its probability.
pub fn healthy_rates() -> [(f64, HealthyRate); RATES] {
    let mut all = healthy::MISFIRES_WHERE.iter().flat_map(|(share, oftener)| {
        let drive = oftener.iter();
        let mean: f64 = drive
            .map(|(region, oftener)| oftener * healthy::MIXED_DRIVE[region])
            .sum();
        let by_region = oftener.values().map(move |oftener| oftener / mean);
        healthy::MISFIRE_RATES.iter().map(move |(weight, rate)| {
            let mut each = by_region.clone().chain([1.0 / mean, 1.0]);
            let rates = array::from_fn(|_| rate * each.next().unwrap_or(1.0));
            (weight * share, rates)
        })
    });
    array::from_fn(|_| all.next().unwrap_or_default())
}

/// Probabilities of the rate patterns of a healthy car.
fn weights() -> ByRate {
    healthy_rates().map(|(weight, _)| weight)
}

/// Number of counting ways of a car: by the rate of its healthy cylinders, or by its misattribution.
pub const WAYS: usize = RATES + MISATTRIBUTED.len();
/// A value for each counting way.
pub type ByWay = [f64; WAYS];

/// Probabilities of the counting ways; where no cylinder fails plainly nothing is misattributed.
pub fn ways(plainly: bool) -> ByWay {
    let misattributed = MISATTRIBUTED.map(|(weight, _)| if plainly { weight } else { 0.0 });
    let all: f64 = misattributed.iter().sum();
    let rates = weights().map(|rate| rate * (1.0 - all)).into_iter();
    let mut weights = rates.chain(misattributed);
    array::from_fn(|_| weights.next().unwrap_or_default())
}

/// Likelihoods by counting way divided by e to the power `log_scale`, so that they can be added and multiplied without
/// underflow.
#[derive(Debug, Clone)]
pub struct Scaled {
    pub log_scale: f64,
    pub by_way: ByWay,
}

impl Scaled {
    /// Scales likelihoods given as logarithms.
    pub fn of(logs: &ByWay) -> Self {
        let log_scale = logs.iter().copied().fold(f64::MIN, f64::max);
        Self {
            log_scale,
            by_way: logs.map(|log| (log - log_scale).exp()),
        }
    }

    /// Mixes in a likelihood, given by its logarithm, with probability `chance`.
    pub fn or(&self, log: f64, chance: f64) -> Self {
        let log_scale = self.log_scale.max(log);
        let own = (1.0 - chance) * (self.log_scale - log_scale).exp();
        let other = chance * (log - log_scale).exp();
        Self {
            log_scale,
            by_way: self.by_way.map(|one| own * one + other),
        }
    }
}

/// ln((1 − chance) eᵃ + chance eᵇ): logarithm of a mixture of two likelihoods.
pub fn either(a: f64, b: f64, chance: f64) -> f64 {
    log_mixture([(1.0 - chance, a), (chance, b)])
}
