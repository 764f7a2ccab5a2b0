//! What the judgement said of a case, held against the truth.

use pintle::{
    bench::Readings,
    cause::Cause,
    diagnose::{Diagnosis, Priors, Tables, diagnose_with_bench},
};

use crate::{case::Case, visible::Healthy};

/// A judged case.
pub struct Verdict {
    pub truth: Cause,
    /// Places of all true causes in [`Cause::ALL`].
    pub truths: Vec<usize>,
    pub visible: bool,
    pub severity: Option<f64>,
    /// Probability of each cause, in the order of [`Cause::ALL`], over all its places.
    pub reported: [f64; 18],
    /// Whether the true cause's most probable place is the right one; `None` when it names none or there is none.
    pub right_place: Option<bool>,
    /// The 90 % interval of the true cause's size and whether it holds the truth.
    pub interval: Option<bool>,
    pub diagnosis: Diagnosis,
}

/// Judges a case with what was read on the bench beside.
pub fn judge(case: &Case, sheet: Option<&Readings>, sound: &Healthy, tables: &Tables) -> Verdict {
    let diagnosis = diagnose_with_bench(&case.summaries, &case.vehicle, tables, sheet);
    let truth = case.causes[0];
    let own = || {
        diagnosis
            .causes
            .iter()
            .filter(|finding| finding.cause == truth)
    };
    let most = own().max_by(|a, b| a.probability.total_cmp(&b.probability));
    let right_place = most.and_then(|finding| match (finding.cylinder, case.cylinder) {
        (Some(reported), Some(truth)) => Some(reported == truth),
        _ => Some(finding.bank? == case.bank?),
    });
    let interval = most.and_then(|finding| {
        let (said, truth) = (finding.severity?, case.severity?);
        Some((said.low..=said.high).contains(&truth))
    });
    Verdict {
        truth,
        truths: case.causes.iter().map(|cause| *cause as usize).collect(),
        visible: sound.can_see(case),
        severity: case.severity,
        reported: Cause::ALL.map(|cause| diagnosis.probability_of(cause)),
        right_place,
        interval,
        diagnosis,
    }
}

impl Verdict {
    /// The same odds if every cause were as common as any other, which is how often they are drawn here.
    pub fn with_even_priors(&self, priors: &Priors) -> [f64; 18] {
        let mut odds = self.reported;
        for (odds, cause) in odds.iter_mut().zip(Cause::ALL) {
            *odds /= priors.weight(cause).max(1e-12);
        }
        let sum: f64 = odds.iter().sum();
        odds.map(|p| p / sum.max(1e-300))
    }

    /// Place of the true cause in a list of odds, 0 for the first.
    pub fn rank(&self, odds: &[f64; 18]) -> usize {
        let own = odds[self.truth as usize];
        let ahead = odds.iter().enumerate();
        ahead
            .filter(|(index, p)| **p > own || (**p == own && *index < self.truth as usize))
            .count()
    }
}

/// Index of the most probable cause.
pub fn leading(odds: &[f64; 18]) -> usize {
    let most = odds.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
    most.map_or(0, |(index, _)| index)
}
