//! Rare events: exact intervals of a rate, and whether one of several counters stands out.
//!
//! Events that come in bursts vary more than a Poisson count. Their *dispersion* φ is the variance over the mean;
//! a count n with dispersion φ carries the information of n/φ independent events, so all calculations here are made
//! with n/φ and scaled back (quasi-Poisson: McCullagh and Nelder, *Generalized Linear Models*, 2nd ed., section 6.2).

use statrs::{
    distribution::{ContinuousCDF, Gamma},
    function::beta::beta_reg,
};

/// The exact central interval of the mean of a Poisson count at `level` (0.95 for 95 %): Garwood, *Biometrika* 28
/// (1936) 437–442, by quantiles of the gamma distribution. `dispersion` (at least 1) widens it for bursts.
///
/// Divide both ends by the exposure for a rate. `None` for a negative count or a level outside 0 to 1.
pub fn mean_interval(count: f64, dispersion: f64, level: f64) -> Option<(f64, f64)> {
    if !(count >= 0.0 && level > 0.0 && level < 1.0) {
        return None;
    }
    let dispersion = dispersion.max(1.0);
    let events = count / dispersion;
    let tail = (1.0 - level) / 2.0;
    let low = match events {
        0.0 => 0.0,
        _ => Gamma::new(events, 1.0).ok()?.inverse_cdf(tail),
    };
    let high = Gamma::new(events + 1.0, 1.0).ok()?.inverse_cdf(1.0 - tail);
    Some((low * dispersion, high * dispersion))
}

/// One of several counters that has more than its share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandsOut {
    /// Its place among the counts given.
    pub index: usize,
    /// Its share of all events, 0 to 1.
    pub share: f64,
    /// Chance of such a surplus on any of the counters if all had the same rate, 0 to 1.
    pub p_value: f64,
}

/// Tests the counter with the smallest chance of its surplus against all others together.
///
/// Given the total, a counter's count is binomial with its share of the exposure; the chance of as many or more is
/// exact (Przyborowski and Wilenski, *Biometrika* 31 (1940) 313–323). Having looked at all k counters is paid for by
/// multiplying with k (Bonferroni). `None` when there are fewer than two counters, no events, or unequal lengths.
pub fn stands_out(counts: &[f64], exposures: &[f64], dispersion: f64) -> Option<StandsOut> {
    let total: f64 = counts.iter().sum();
    let exposure: f64 = exposures.iter().sum();
    let fits = counts.len() == exposures.len() && counts.len() >= 2;
    if !(fits && total > 0.0 && exposure > 0.0) {
        return None;
    }
    let candidates = counts.iter().zip(exposures).enumerate();
    let tested = candidates.map(|(index, (count, exposed))| {
        let events = (count / dispersion.max(1.0), total / dispersion.max(1.0));
        StandsOut {
            index,
            share: count / total,
            p_value: surplus_chance(events.0, events.1, exposed / exposure),
        }
    });
    let strongest = tested.min_by(|a, b| a.p_value.total_cmp(&b.p_value))?;
    Some(StandsOut {
        p_value: (strongest.p_value * counts.len() as f64).min(1.0),
        ..strongest
    })
}

/// Chance of `events` or more out of `total` with probability `share` each, by the incomplete beta function, which
/// carries the binomial over to numbers that are not whole.
fn surplus_chance(events: f64, total: f64, share: f64) -> f64 {
    if events <= 0.0 || share >= 1.0 {
        1.0
    } else if share <= 0.0 {
        0.0
    } else {
        beta_reg(events, total - events + 1.0, share)
    }
}

/// How the regulation sorts misfires over the cylinders (13 CCR 1968.2 (e)(3)).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MisfirePattern {
    /// More than 90 % in this one cylinder, by its place among the counts given.
    Single(usize),
    /// Two or more cylinders with more than 10 % each.
    Multiple,
}

/// Sorts counts by cylinder as the regulation does; `None` without misfires.
pub fn misfire_pattern(counts: &[f64]) -> Option<MisfirePattern> {
    let total: f64 = counts.iter().sum();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let single = counts.iter().position(|count| *count > 0.9 * total);
    let above_tenth = counts.iter().filter(|count| **count > 0.1 * total).count();
    let multiple = (above_tenth >= 2).then_some(MisfirePattern::Multiple);
    single.map(MisfirePattern::Single).or(multiple)
}
