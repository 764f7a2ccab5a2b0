//! Ways in which the counters of a whole car are: how often its healthy cylinders misfire and where, or what it books on the
//! neighbours of a cylinder that fails plainly. A car is of one way, whichever of its cylinders is looked at.

use std::array;

use crate::{diagnose::healthy, series::label::region::Region, statistics::density::log_mixture};

/// Pieces of the exposure: the regions, what lies outside them, and earlier trips.
pub const PIECES: usize = Region::ALL.len() + 2;
/// Rates that healthy cylinders may have, and where, as array length.
pub const RATES: usize = healthy::MISFIRE_RATES.len() * healthy::MISFIRES_WHERE.len();
/// Shares of a plainly failing cylinder's misfires that are booked on each of some others by the way the car counts, with how many cars do so
/// (assumed: a single-cylinder finding may leave a tenth to all others, 13 CCR 1968.2 (e)(3.1.3)).
pub const BOOKED: [(f64, f64); 3] = [(0.08, 0.003), (0.06, 0.015), (0.04, 0.06)];

/// A value for each rate that healthy cylinders of a car may have.
pub type ByRate = [f64; RATES];

/// Misfires of a healthy cylinder for each revolution: by region, elsewhere, and on a mixed drive.
pub type HealthyRate = [f64; PIECES];

/// Every rate of a healthy car with its weight.
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

/// Weights of the healthy rates.
fn weights() -> ByRate {
    healthy_rates().map(|(weight, _)| weight)
}

/// Ways in which a car's counters are: by the rate of its healthy cylinders, or by what is booked.
pub const WAYS: usize = RATES + BOOKED.len();
/// A value for each of them.
pub type ByWay = [f64; WAYS];

/// The ways' weights; beside no plain failure nothing is booked.
pub fn ways(plainly: bool) -> ByWay {
    let booked = BOOKED.map(|(weight, _)| if plainly { weight } else { 0.0 });
    let all: f64 = booked.iter().sum();
    let rates = weights().map(|rate| rate * (1.0 - all)).into_iter();
    let mut weights = rates.chain(booked);
    array::from_fn(|_| weights.next().unwrap_or_default())
}

/// Likelihoods by way over what `log_scale` is the logarithm of: so they can be added and multiplied without a computer's
/// smallest number being met.
#[derive(Debug, Clone)]
pub struct Scaled {
    pub log_scale: f64,
    pub by_way: ByWay,
}

impl Scaled {
    /// From logarithms.
    pub fn of(logs: &ByWay) -> Self {
        let log_scale = logs.iter().copied().fold(f64::MIN, f64::max);
        Self {
            log_scale,
            by_way: logs.map(|log| (log - log_scale).exp()),
        }
    }

    /// The same with a chance of another likelihood, told by its logarithm.
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

/// ln((1 − chance) eᵃ + chance eᵇ).
pub fn either(a: f64, b: f64, chance: f64) -> f64 {
    log_mixture([(1.0 - chance, a), (chance, b)])
}
