//! From scored explanations to odds over causes: normalised, grouped by place, with severity and evidence.

use std::collections::BTreeMap;

use crate::{
    bank::Bank,
    cause::{Cause, Scope},
    statistics::log_sum::log_sum,
};

use super::{
    car_evidence::CarEvidence,
    diagnosis::{Evidence, Finding, SecondCause, Severity},
    hypothesis::Hypothesis,
    prior::Priors,
};

/// Probability of a cause at one cylinder, 0 to 1, from which that cylinder is named (assumed; below it the probability
/// stays in the unnamed entry, so the sum over places does not change).
const WORTH_NAMING: f64 = 0.02;
/// Multiple of an even share among the bank's cylinders from which a cylinder is named (assumed; it decides only how
/// the probability is grouped).
const STANDS_OUT: f64 = 1.5;
/// Share of a finding's probability, 0 to 1, from which a second cause is mentioned (assumed; the odds do not depend on
/// it).
const WORTH_MENTIONING: f64 = 0.15;
/// Probability, 0 to 1, from which a second cause is mentioned (assumed; the odds do not depend on it).
const LEAST_MENTIONED: f64 = 0.03;
/// Smallest change of the natural logarithm of the odds for which evidence is listed: about 14 % (assumed; the odds do
/// not depend on it).
const WORTH_TELLING: f64 = 0.15;

/// A cause at a place: the key of one entry in the findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Entry {
    cause: Cause,
    cylinder: Option<u8>,
    bank: Option<u8>,
}

impl Entry {
    fn of(hypothesis: &Hypothesis) -> Self {
        let bank = hypothesis.location.bank.filter(|_| hypothesis.bank_known);
        Self {
            cause: hypothesis.cause,
            cylinder: hypothesis
                .location
                .cylinder
                .filter(|_| hypothesis.cause.scope() == Scope::Cylinder),
            bank: bank.map(Bank::number),
        }
    }

    /// This entry without its cylinder, for a cylinder that is not worth naming.
    const fn unnamed(self) -> Self {
        Self {
            cylinder: None,
            ..self
        }
    }
}

/// The odds over all causes, most probable first; the probabilities sum to 1.
pub fn findings(hypotheses: &[Hypothesis], priors: &Priors, car: &CarEvidence) -> Vec<Finding> {
    let all = log_sum_of(hypotheses.iter());
    let groups = gather(hypotheses, all);
    let is_none = |hypothesis: &&Hypothesis| hypothesis.cause == Cause::NoneFound;
    let none: Vec<&Hypothesis> = hypotheses.iter().filter(is_none).collect();
    let rest: Vec<&Hypothesis> = hypotheses.iter().filter(|h| !is_none(h)).collect();
    let mut findings: Vec<Finding> = groups
        .into_iter()
        .map(|(entry, group)| {
            let reference = if entry.cause == Cause::NoneFound {
                &rest
            } else {
                &none
            };
            let log_probability = log_sum_of(group.iter().copied()) - all;
            Finding {
                cause: entry.cause,
                cylinder: entry.cylinder,
                bank: entry.bank,
                probability: log_probability.exp(),
                severity: severity(entry.cause, &group, priors),
                second_cause: second_cause(&group, all, log_probability.exp()),
                evidence: evidence(&group, reference, car),
            }
        })
        .collect();
    findings.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    findings
}

/// Natural logarithm of prior weight times likelihood of one explanation.
fn weighed(hypothesis: &Hypothesis) -> f64 {
    hypothesis.log_weight + hypothesis.log_likelihood.iter().sum::<f64>()
}

/// Natural logarithm of the sum, over these explanations, of prior weight times likelihood.
fn log_sum_of<'a>(hypotheses: impl Iterator<Item = &'a Hypothesis>) -> f64 {
    let each: Vec<f64> = hypotheses.map(weighed).collect();
    log_sum(each.into_iter())
}

/// Explanations grouped by entry; cylinders that are not worth naming share an entry.
fn gather(hypotheses: &[Hypothesis], all: f64) -> BTreeMap<Entry, Vec<&Hypothesis>> {
    let mut exact: BTreeMap<Entry, Vec<&Hypothesis>> = BTreeMap::new();
    for hypothesis in hypotheses {
        exact
            .entry(Entry::of(hypothesis))
            .or_default()
            .push(hypothesis);
    }
    let probabilities: BTreeMap<Entry, f64> = exact
        .iter()
        .map(|(entry, group)| (*entry, (log_sum_of(group.iter().copied()) - all).exp()))
        .collect();
    let mut groups: BTreeMap<Entry, Vec<&Hypothesis>> = BTreeMap::new();
    for (entry, group) in exact {
        let entry = if is_named(entry, &probabilities) {
            entry
        } else {
            entry.unnamed()
        };
        groups.entry(entry).or_default().extend(group);
    }
    groups
}

/// Whether an entry keeps its cylinder: it must be probable and stand out from the other cylinders of the bank.
fn is_named(entry: Entry, probabilities: &BTreeMap<Entry, f64>) -> bool {
    if entry.cause.scope() != Scope::Cylinder || entry.cylinder.is_none() {
        return true;
    }
    let same = probabilities
        .iter()
        .filter(|(other, _)| (other.cause, other.bank) == (entry.cause, entry.bank));
    let (sum, count) = same.fold((0.0, 0.0), |(sum, count), (_, p)| (sum + p, count + 1.0));
    let own = probabilities.get(&entry).copied().unwrap_or(0.0);
    own >= WORTH_NAMING && own * count >= STANDS_OUT * sum
}

/// How far each piece of evidence moved the log odds of a group against the reference; the parts sum to the whole
/// movement.
fn evidence(group: &[&Hypothesis], reference: &[&Hypothesis], car: &CarEvidence) -> Vec<Evidence> {
    let sets = [group, reference];
    // logarithms of weight times likelihood so far, piece after piece
    let mut so_far = sets.map(|set| set.iter().map(|h| h.log_weight).collect::<Vec<f64>>());
    let odds = |[group, reference]: &[Vec<f64>; 2]| {
        log_sum(group.iter().copied()) - log_sum(reference.iter().copied())
    };
    let mut weighed_facts = Vec::new();
    let mut before = odds(&so_far);
    for (index, piece) in car.pieces().iter().enumerate() {
        for (sums, set) in so_far.iter_mut().zip(sets) {
            for (sum, h) in sums.iter_mut().zip(set) {
                *sum += h.log_likelihood.get(index).copied().unwrap_or(0.0);
            }
        }
        let now = odds(&so_far);
        let log_odds = now - before;
        before = now;
        if let Some(fact) = &piece.fact
            && log_odds.abs() >= WORTH_TELLING
        {
            let fact = fact.clone();
            weighed_facts.push(Evidence { fact, log_odds });
        }
    }
    weighed_facts.sort_by(|a, b| b.log_odds.abs().total_cmp(&a.log_odds.abs()));
    weighed_facts
}

/// The most probable second cause of a group; `None` where it is too improbable to mention.
fn second_cause(group: &[&Hypothesis], all: f64, probability: f64) -> Option<SecondCause> {
    let mut pairs: BTreeMap<(Cause, Option<u8>), f64> = BTreeMap::new();
    for hypothesis in group {
        if let Some(other) = hypothesis.second_cause {
            let joint = (weighed(hypothesis) - all).exp();
            *pairs
                .entry((other.cause, other.location.cylinder))
                .or_default() += joint;
        }
    }
    let most = pairs.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let ((cause, cylinder), joint) =
        most.filter(|(_, p)| *p >= LEAST_MENTIONED.max(WORTH_MENTIONING * probability))?;
    Some(SecondCause {
        cause,
        cylinder: cylinder.filter(|_| cause.scope() == Scope::Cylinder),
        probability: joint,
    })
}

/// Standard deviations on each side of a 5–95 % interval of the normal distribution.
const NORMAL_90: f64 = 1.645;

/// Median and 5–95 % interval of the size, widened by how much the same effect differs from car to car; `None` where
/// the cause has no size.
fn severity(cause: Cause, group: &[&Hypothesis], priors: &Priors) -> Option<Severity> {
    let quantity = cause.severity_quantity()?;
    let all = log_sum(group.iter().map(|h| weighed(h)));
    let mut sizes: Vec<(f64, f64)> = group
        .iter()
        .filter_map(|h| Some((h.size?, (weighed(h) - all).exp())))
        .collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut grid: Vec<(f64, f64)> = Vec::new();
    for (size, weight) in sizes {
        match grid.last_mut() {
            Some((last, sum)) if *last == size => *sum += weight,
            _ => grid.push((size, weight)),
        }
    }
    let (low, median, high) = (
        quantile(&grid, 0.05)?,
        quantile(&grid, 0.50)?,
        quantile(&grid, 0.95)?,
    );
    let spread = NORMAL_90 * priors.spread(cause);
    Some(Severity {
        quantity,
        low: wider(median, low, -spread),
        median,
        high: wider(median, high, spread).min(priors.largest(cause)),
    })
}

/// The end of an interval moved away from the median, downwards for a negative `spread`: the two distances, as
/// logarithms, add in quadrature.
fn wider(median: f64, end: f64, spread: f64) -> f64 {
    let ratio = end / median;
    if ratio > 0.0 && ratio.is_finite() && spread != 0.0 {
        median * (spread.signum() * ratio.ln().hypot(spread)).exp()
    } else {
        end
    }
}

/// Quantile of a distribution on a grid, interpolated linearly between the middles of its steps; `None` for an empty
/// grid.
fn quantile(grid: &[(f64, f64)], level: f64) -> Option<f64> {
    let mut sum = 0.0;
    let mut before: Option<(f64, f64)> = None;
    for (size, weight) in grid {
        let middle = sum + 0.5 * weight;
        if middle >= level {
            return Some(match before {
                Some((smaller, reached)) if middle > reached => {
                    let along = (level - reached) / (middle - reached);
                    smaller + along * (size - smaller)
                }
                _ => *size,
            });
        }
        sum += weight;
        before = Some((*size, middle));
    }
    before.map(|(size, _)| size)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_of_logarithms_does_not_underflow() {
        let found = log_sum([-1000.0, -1000.0].into_iter());
        assert!((found - (-1000.0 + 2_f64.ln())).abs() < 1e-12);
    }

    /// By hand: 10 below 20 is ln 2 = 0.693 away; with 0.4 beside it 0.800, which is 8.99.
    #[test]
    fn an_interval_widens_in_squares() {
        assert!((wider(20.0, 10.0, -0.4) - 8.99).abs() < 0.01);
        assert_eq!(wider(20.0, 10.0, 0.0), 10.0);
        assert_eq!(wider(-5.0, 8.0, 0.4), 8.0);
        assert!(wider(20.0, 20.0, -0.4) < 20.0);
    }

    #[test]
    fn quantiles_lie_between_the_grid_points_that_hold_the_weight() {
        let grid = [(10.0, 0.1), (20.0, 0.8), (30.0, 0.1)];
        assert_eq!(quantile(&grid, 0.5), Some(20.0));
        assert!((10.0..20.0).contains(&quantile(&grid, 0.2).unwrap()));
        assert_eq!(quantile(&grid, 0.99), Some(30.0));
    }
}
