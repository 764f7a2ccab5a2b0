//! What is counted on the neighbours of a cylinder that fails plainly.
//!
//! Crank speed tells the cylinder by when the crank was slow. What one cylinder's failures do to the next turns is booked, in
//! part, on others; and what makes it fail, or its failing, may make others fail too.

use std::array;

use statrs::function::gamma::ln_gamma;

use super::cylinder::{ByRate, Cylinder, LARGEST_COUNT, RATES, negative_binomial};

/// Chance for each other cylinder that it fails too for what the first does to the engine, or takes any number of its
/// misfires (common practice): as many as the first at most.
pub const MISTAKEN: f64 = 0.03;
/// The same where it fails more often than not: the crank's speed is disturbed in every turn, and the bank's mixture is no
/// longer the neighbours' (common practice).
pub const MOSTLY_MISTAKEN: f64 = 0.3;
/// Shares of its misfires that are booked on each of some others by the way the car counts, with how many cars do so
/// (assumed: a single-cylinder finding may leave a tenth to all others, 13 CCR 1968.2 (e)(3.1.3)).
const BOOKED: [(f64, f64); 3] = [(0.08, 0.003), (0.06, 0.015), (0.04, 0.06)];
/// Of the others, so many are booked on (assumed: those that fire next).
const BOOKED_ON: f64 = 0.5;
/// Shape of the gamma distribution of what is booked.
const BOOKED_SHAPE: f64 = 1.0;

/// Ways in which a car's counters are: by the rate of its healthy cylinders, or by what is booked.
pub const WAYS: usize = RATES + BOOKED.len();
/// A value for each of them.
pub type ByWay = [f64; WAYS];

/// The ways' weights, from those of the rates; beside no plain failure nothing is booked.
pub fn ways(rates: &ByRate, plainly: bool) -> ByWay {
    let booked = BOOKED.map(|(weight, _)| if plainly { weight } else { 0.0 });
    let all: f64 = booked.iter().sum();
    let mut weights = rates.iter().map(|rate| rate * (1.0 - all)).chain(booked);
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

/// One cylinder beside another that fails plainly.
#[derive(Debug, Clone)]
pub struct Beside {
    /// Whether it counted as many as the other at most.
    fewer: bool,
    any_counts: f64,
    booked: [f64; BOOKED.len()],
    /// Of a healthy one, for [`MISTAKEN`] and [`MOSTLY_MISTAKEN`].
    healthy: [Scaled; 2],
}

impl Beside {
    /// One cylinder beside the one that fails.
    pub fn new(own: &Cylinder, failing: &Cylinder) -> Self {
        let count = own.all_counts();
        // as the own ones are counted against the predictions
        let of_failing = failing.all_counts() * failing.dispersion / own.dispersion;
        let any_size = -(count + 1.0).ln() - LARGEST_COUNT.ln().ln();
        let falls = own.any_counts - any_size;
        let booked = BOOKED.map(|(_, share)| {
            let mean = (share * of_failing).max(f64::MIN_POSITIVE);
            negative_binomial(count, mean, BOOKED_SHAPE) - ln_gamma(count + 1.0) + falls
        });
        let mut beside = Self {
            fewer: count <= of_failing,
            any_counts: own.any_counts,
            booked,
            healthy: [own.healthy.clone(), own.healthy.clone()],
        };
        beside.healthy = [false, true].map(|mostly| beside.beside(&own.healthy, mostly));
        beside
    }

    /// If it is healthy.
    pub const fn healthy(&self, mostly: bool) -> &Scaled {
        let [plainly, of_mostly] = &self.healthy;
        if mostly { of_mostly } else { plainly }
    }

    /// With what else may be counted on it, where its counts have these likelihoods by themselves.
    pub fn beside(&self, own: &Scaled, mostly: bool) -> Scaled {
        let chance = if mostly { MOSTLY_MISTAKEN } else { MISTAKEN };
        let any = if self.fewer {
            self.any_counts
        } else {
            f64::NEG_INFINITY
        };
        let booked = self.booked.iter().copied();
        let log_scale = booked.fold(own.log_scale.max(any), f64::max);
        let by_itself = (own.log_scale - log_scale).exp();
        let any = chance * (any - log_scale).exp();
        let booked = self.booked.map(|log| BOOKED_ON * (log - log_scale).exp());
        let mut by_way = own.by_way;
        for (way, one) in by_way.iter_mut().enumerate() {
            let own = *one * by_itself;
            *one = match way.checked_sub(RATES).and_then(|way| booked.get(way)) {
                None => (1.0 - chance) * own + any,
                Some(booked) => (1.0 - BOOKED_ON) * own + booked,
            };
        }
        Scaled { log_scale, by_way }
    }
}
