//! What is counted on the neighbours of a cylinder that fails plainly.
//!
//! Crank speed tells the cylinder by when the crank was slow. What one cylinder's failures do to the next turns is booked, in
//! part, on others; and what makes it fail, or its failing, may make others fail too.

use std::array;

use statrs::function::gamma::ln_gamma;

use super::{
    cylinder::{ByRate, Cylinder, LARGEST_COUNT, RATES, negative_binomial},
    either,
};

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

/// Logarithms of the ways' weights, from those of the rates; beside no plain failure nothing is booked.
pub fn ways(rates: ByRate, plainly: bool) -> ByWay {
    let booked: f64 = BOOKED.iter().map(|(weight, _)| weight).sum();
    array::from_fn(|way| match (rates.get(way), plainly) {
        (Some(rate), true) => rate + (1.0 - booked).ln(),
        (Some(rate), false) => *rate,
        (None, true) => BOOKED
            .get(way - RATES)
            .map_or(0.0, |(weight, _)| *weight)
            .ln(),
        (None, false) => f64::NEG_INFINITY,
    })
}

/// One cylinder beside another that fails plainly.
#[derive(Debug, Clone)]
pub struct Beside {
    /// Whether it counted as many as the other at most.
    fewer: bool,
    any_counts: f64,
    booked: [f64; BOOKED.len()],
    /// Of a healthy one, by way, for [`MISTAKEN`] and [`MOSTLY_MISTAKEN`].
    healthy: [ByWay; 2],
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
            healthy: [[0.0; WAYS]; 2],
        };
        let healthy = own.healthy_by_way();
        beside.healthy = [MISTAKEN, MOSTLY_MISTAKEN].map(|chance| beside.by_way(chance, &healthy));
        beside
    }

    /// Logarithm of the likelihood of its counts if it is healthy, by way.
    pub const fn healthy(&self, mostly: bool) -> ByWay {
        let [plainly, of_mostly] = self.healthy;
        if mostly { of_mostly } else { plainly }
    }

    /// The same where its counts have these likelihoods by themselves.
    pub fn felt(&self, felt: &ByWay, mostly: bool) -> ByWay {
        let chance = if mostly { MOSTLY_MISTAKEN } else { MISTAKEN };
        self.by_way(chance, felt)
    }

    fn by_way(&self, chance: f64, own: &ByWay) -> ByWay {
        let mut all = *own;
        for (way, own) in all.iter_mut().enumerate() {
            *own = match way.checked_sub(RATES) {
                None if self.fewer => either(*own, self.any_counts, chance),
                None => *own + (1.0 - chance).ln(),
                Some(booked) => {
                    let booked = self.booked.get(booked).copied().unwrap_or(0.0);
                    either(*own, booked, BOOKED_ON)
                }
            };
        }
        all
    }
}
