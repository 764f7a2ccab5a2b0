//! Misfires counted on the neighbours of a cylinder that fails plainly.
//!
//! Crank speed tells the cylinder by when the crank was slow. The effect of one cylinder's failures on the next turns
//! is partly misattributed to others; and what makes it fail, or its failing, may make others fail too.

use statrs::function::gamma::ln_gamma;

use super::{
    cylinder::{Cylinder, LARGEST_COUNT, negative_binomial},
    ways::{MISATTRIBUTED, RATES, Scaled},
};

/// Probability for each other cylinder, 0 to 1, that it fails too because of what the first does to the engine, or that
/// some of the first one's misfires are misattributed to it (common practice): at most as many as the first has.
const MISTAKEN: f64 = 0.03;
/// Probability for each other cylinder, 0 to 1, that it fails too or takes misattributed misfires where the first fails
/// more often than not: crank speed is disturbed in every turn, and the bank's mixture no longer suits the neighbours
/// (common practice).
const MOSTLY_MISTAKEN: f64 = 0.3;
/// Share of the other cylinders to which misfires are misattributed, 0 to 1 (assumed: those that fire next).
const MISATTRIBUTED_TO: f64 = 0.5;
/// Shape of the gamma distribution of misattributed misfires: at 1 the standard deviation equals the mean (assumed).
const MISATTRIBUTED_SHAPE: f64 = 1.0;

/// Counts of one cylinder next to another that fails plainly.
#[derive(Debug, Clone)]
pub struct NeighbourCounts {
    /// Whether this cylinder counted at most as many misfires as the failing one.
    fewer: bool,
    any_counts: f64,
    misattributed: [f64; MISATTRIBUTED.len()],
    /// Likelihoods if this cylinder is healthy: with [`MISTAKEN`], and with [`MOSTLY_MISTAKEN`].
    healthy: [Scaled; 2],
}

impl NeighbourCounts {
    /// Prepares a cylinder's counts next to those of the failing cylinder.
    pub fn new(own: &Cylinder, failing: &Cylinder) -> Self {
        let count = own.all_counts();
        // scaled as this cylinder's counts are scored against the predictions
        let of_failing = failing.all_counts() * failing.dispersion / own.dispersion;
        let any_size = -(count + 1.0).ln() - LARGEST_COUNT.ln().ln();
        let falls = own.any_counts - any_size;
        let misattributed = MISATTRIBUTED.map(|(_, share)| {
            let mean = (share * of_failing).max(f64::MIN_POSITIVE);
            negative_binomial(count, mean, MISATTRIBUTED_SHAPE) - ln_gamma(count + 1.0) + falls
        });
        let mut neighbour = Self {
            fewer: count <= of_failing,
            any_counts: own.any_counts,
            misattributed,
            healthy: [own.healthy.clone(), own.healthy.clone()],
        };
        neighbour.healthy =
            [false, true].map(|mostly| neighbour.with_misattributed(&own.healthy, mostly));
        neighbour
    }

    /// Likelihoods by way if this cylinder is healthy; `mostly` where the failing one fails more often than not.
    pub const fn healthy(&self, mostly: bool) -> &Scaled {
        let [plainly, of_mostly] = &self.healthy;
        if mostly { of_mostly } else { plainly }
    }

    /// Likelihoods by way with misattributed and induced misfires included, where `own` are those of the cylinder by
    /// itself.
    pub fn with_misattributed(&self, own: &Scaled, mostly: bool) -> Scaled {
        let chance = if mostly { MOSTLY_MISTAKEN } else { MISTAKEN };
        let any = if self.fewer {
            self.any_counts
        } else {
            f64::NEG_INFINITY
        };
        let misattributed = self.misattributed.iter().copied();
        let log_scale = misattributed.fold(own.log_scale.max(any), f64::max);
        let by_itself = (own.log_scale - log_scale).exp();
        let any = chance * (any - log_scale).exp();
        let misattributed = self
            .misattributed
            .map(|log| MISATTRIBUTED_TO * (log - log_scale).exp());
        let mut by_way = own.by_way;
        for (way, one) in by_way.iter_mut().enumerate() {
            let own = *one * by_itself;
            *one = match way
                .checked_sub(RATES)
                .and_then(|way| misattributed.get(way))
            {
                None => (1.0 - chance) * own + any,
                Some(misattributed) => (1.0 - MISATTRIBUTED_TO) * own + misattributed,
            };
        }
        Scaled { log_scale, by_way }
    }
}
