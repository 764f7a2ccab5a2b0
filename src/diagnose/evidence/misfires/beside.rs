//! What is counted on the neighbours of a cylinder that fails plainly.
//!
//! Crank speed tells the cylinder by when the crank was slow. What one cylinder's failures do to the next turns is booked, in
//! part, on others; and what makes it fail, or its failing, may make others fail too.

use statrs::function::gamma::ln_gamma;

use super::{
    cylinder::{Cylinder, LARGEST_COUNT, negative_binomial},
    ways::{BOOKED, RATES, Scaled},
};

/// Chance for each other cylinder that it fails too for what the first does to the engine, or takes any number of its
/// misfires (common practice): as many as the first at most.
const MISTAKEN: f64 = 0.03;
/// The same where it fails more often than not: the crank's speed is disturbed in every turn, and the bank's mixture is no
/// longer the neighbours' (common practice).
const MOSTLY_MISTAKEN: f64 = 0.3;
/// Of the others, so many are booked on (assumed: those that fire next).
const BOOKED_ON: f64 = 0.5;
/// Shape of the gamma distribution of what is booked.
const BOOKED_SHAPE: f64 = 1.0;

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
