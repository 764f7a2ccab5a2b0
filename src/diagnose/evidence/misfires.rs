//! Misfire counts against a prediction.
//!
//! Counts are negative binomial: Poisson counts whose rate is itself uncertain by a gamma distribution, because the
//! rate that a cause would give is known only roughly, and the revolutions are only an upper bound of the exposure.
//! Bursts widen the distribution by the measured dispersion (quasi-Poisson). Counters that never moved may not work at
//! all.

mod cylinder;
mod neighbour;
mod ways;

use crate::{
    bank::Bank,
    series::{label::region::ByRegion, summary::Summary},
};

use super::{
    super::{
        diagnosis::{self, MisfireSource},
        forward::{Location, Prediction},
        healthy,
    },
    Case, Conditions, Evidence, Fact, Piece, Reach, Sources,
};
use cylinder::{Cylinder, Shapes};
use neighbour::NeighbourCounts;
use ways::{ByWay, Scaled, ways};

/// Share of its firings that fail from which a cylinder fails plainly, 0 to 1 (common practice).
const PLAINLY: f64 = 0.01;
/// Share of its firings that fail from which a cylinder fails mostly, 0 to 1: more often than not.
const MOSTLY: f64 = 0.5;
/// Probability that counters which never moved on any cylinder do not count at all, 0 to 1 (common practice).
const DEAD_COUNTERS: f64 = 0.2;

/// Probability, 0 to 1, that the counts arose in a way that no prediction covers (assumed: a counter with thousands of
/// misfires is seldom faulty).
const OUTLIER_RATE: f64 = 0.01;

/// Evidence from the counts, where the car has counters.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let misfires = Misfires::new(sources.summaries)?;
    let piece = Piece::new(misfires, fact(sources.misfires));
    Some(piece.with_outlier_rate(OUTLIER_RATE))
}

fn fact(counted: &diagnosis::Misfires) -> Option<Fact> {
    if counted.source != MisfireSource::Counters {
        return None;
    }
    let counts = counted.cylinders.iter();
    let counts = counts.filter_map(|c| Some((c.cylinder, c.counted?.count)));
    let counts: Vec<(u8, f64)> = counts.collect();
    let (cylinder, count) = counts.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let all: f64 = counts.iter().map(|(_, count)| count).sum();
    Some(Fact::Misfires {
        cylinder,
        count,
        others: all - count,
        revolutions: counted.revolutions.unwrap_or(0.0),
    })
}

impl Evidence for Misfires {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        let bank_of = |cylinder| case.banks.of(cylinder);
        self.under(case.location(), case.prediction, bank_of)
    }

    fn reach(&self) -> Reach {
        Reach::Cylinder
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.tells_cylinders |= !self.cylinders.is_empty();
    }
}

/// All counters, ready to be scored against predictions.
#[derive(Debug, Clone)]
pub struct Misfires {
    cylinders: Vec<Cylinder>,
    /// Counts of each cylinder next to each other cylinder, for the case that the second one fails plainly.
    neighbours: Vec<Vec<NeighbourCounts>>,
    moved: bool,
    /// Weights of the counting ways of a car: where no cylinder fails plainly, and where one does.
    ways: [ByWay; 2],
    /// Log-likelihood of all cylinders if all are healthy.
    all_healthy: f64,
    /// Log-likelihood of all cylinders but one if they are healthy, by the left-out cylinder in counter order: where
    /// that one fails little, plainly, mostly.
    others_healthy: Vec<[f64; 3]>,
}

impl Misfires {
    /// Combines the captures; `None` without counters.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let mut cylinders: Vec<Cylinder> = Vec::new();
        let mut moved = false;
        for misfires in summaries
            .iter()
            .filter_map(|summary| summary.misfires.as_ref())
        {
            for counter in &misfires.cylinders {
                moved |= counter.counter_high > 0.0 || counter.average_of_ten > Some(0.0);
                let known = cylinders.iter().position(|c| c.number == counter.cylinder);
                let index = known.unwrap_or(cylinders.len());
                if known.is_none() {
                    cylinders.push(Cylinder::new(counter.cylinder));
                }
                if let Some(cylinder) = cylinders.get_mut(index) {
                    cylinder.add(misfires, counter);
                }
            }
        }
        // where one average was stored, zero is an average too
        let kept = cylinders.iter().any(Cylinder::has_history);
        for cylinder in &mut cylinders {
            if kept {
                cylinder.keep_history();
            }
            cylinder.prepare();
        }
        let neighbours = cylinders.iter().map(|own| {
            let each = cylinders.iter();
            each.map(|failing| NeighbourCounts::new(own, failing))
                .collect()
        });
        let mut misfires = Self {
            neighbours: neighbours.collect(),
            cylinders,
            moved,
            ways: [false, true].map(ways),
            all_healthy: 0.0,
            others_healthy: Vec::new(),
        };
        misfires.all_healthy = misfires.healthy_but(None, Fails::Little);
        let each = 0..misfires.cylinders.len();
        let others = each.map(|index| {
            [Fails::Little, Fails::Plainly, Fails::Mostly]
                .map(|fails| misfires.healthy_but(Some(index), fails))
        });
        misfires.others_healthy = others.collect();
        (!misfires.cylinders.is_empty()).then_some(misfires)
    }

    /// Log-likelihood of all cylinders but one if they are healthy.
    fn healthy_but(&self, failing: Option<usize>, fails: Fails) -> f64 {
        self.by_way(failing, fails, |_| None)
    }

    /// Log-likelihood of all cylinders but the failing one, summed over the counting ways of a car; `noticeable` gives the
    /// likelihoods of a cylinder that may misfire more than healthy ones do.
    fn by_way(
        &self,
        failing: Option<usize>,
        fails: Fails,
        noticeable: impl Fn(&Cylinder) -> Option<Scaled>,
    ) -> f64 {
        let plainly = failing.filter(|_| fails != Fails::Little);
        // the car's rate, and how it counts, are the same for all
        let [little, of_plainly] = &self.ways;
        let mut live = *if plainly.is_some() {
            of_plainly
        } else {
            little
        };
        let mut log_scale = 0.0;
        for (index, cylinder) in self.cylinders.iter().enumerate() {
            if failing == Some(index) {
                continue;
            }
            let mostly = fails == Fails::Mostly;
            let neighbour = plainly.and_then(|failing| self.neighbours.get(index)?.get(failing));
            let mut take = |own: &Scaled| {
                log_scale += own.log_scale;
                for (all, own) in live.iter_mut().zip(own.by_way) {
                    *all *= own;
                }
            };
            match (noticeable(cylinder), neighbour) {
                (Some(noticeable), Some(neighbour)) => {
                    take(&neighbour.with_misattributed(&noticeable, mostly))
                }
                (Some(noticeable), None) => take(&noticeable),
                (None, Some(neighbour)) => take(neighbour.healthy(mostly)),
                (None, None) => take(&cylinder.healthy),
            }
        }
        let all: f64 = live.iter().sum();
        all.max(f64::MIN_POSITIVE).ln() + log_scale
    }

    /// Numbers of the cylinders that have a counter.
    pub fn numbers(&self) -> impl Iterator<Item = u8> {
        self.cylinders.iter().map(|cylinder| cylinder.number)
    }

    /// Log-likelihood of all counts with a cause at this place. `bank_of` gives the bank (from 0) of a cylinder, where
    /// it is known.
    fn under(
        &self,
        location: Location,
        prediction: &Prediction,
        bank_of: impl Fn(u8) -> Option<Bank>,
    ) -> f64 {
        let worst = prediction.failing.values().copied().fold(0.0, f64::max);
        let fails = Fails::of(worst);
        let meant = |number| location.cylinder == Some(number);
        let failing = self
            .numbers()
            .position(meant)
            .filter(|_| worst > healthy::NEGLIGIBLE_FAILING);
        let own = failing.and_then(|failing| self.cylinders.get(failing));
        let shapes = Shapes::of(prediction);
        let own = own.map_or(0.0, |own| own.noticeable(&prediction.failing, shapes));
        let others_noticeable = [
            prediction.failing_of_those_hit(),
            prediction.failing_elsewhere,
        ];
        let spared = prediction.spared_others;
        let others = match (failing, others_noticeable.iter().any(is_noticeable)) {
            (_, true) => self.by_way(failing, fails, |cylinder| {
                let shares = others(location, prediction, bank_of(cylinder.number));
                is_noticeable(&shares).then(|| cylinder.noticeable_by_way(&shares, shapes, spared))
            }),
            (Some(failing), false) => {
                let others = self.others_healthy.get(failing);
                others.map_or(0.0, |others| Fails::of_each(others, fails))
            }
            (None, false) => self.all_healthy,
        };
        let live = own + others;
        if self.moved {
            return live;
        }
        (DEAD_COUNTERS + (1.0 - DEAD_COUNTERS) * live.exp()).ln()
    }
}

/// How often a cylinder fails, as far as it affects the counts of the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fails {
    Little,
    Plainly,
    Mostly,
}

impl Fails {
    /// Class of the share of firings that fail in the region where most do.
    fn of(worst: f64) -> Self {
        match worst {
            worst if worst > MOSTLY => Self::Mostly,
            worst if worst > PLAINLY => Self::Plainly,
            _ => Self::Little,
        }
    }

    const fn of_each([little, plainly, mostly]: &[f64; 3], fails: Self) -> f64 {
        match fails {
            Self::Little => *little,
            Self::Plainly => *plainly,
            Self::Mostly => *mostly,
        }
    }
}

/// Whether failing firings stand out from those of a healthy cylinder.
fn is_noticeable(failing: &ByRegion<f64>) -> bool {
    failing
        .values()
        .any(|share| *share > healthy::NEGLIGIBLE_FAILING)
}

/// Share of firings that fail by region on a cylinder that is not at fault: on the place's bank, on a different one, or
/// half of each where its bank is not known.
fn others(location: Location, prediction: &Prediction, bank: Option<Bank>) -> ByRegion<f64> {
    let same_bank = prediction.failing_of_those_hit();
    let elsewhere = prediction.failing_elsewhere;
    match (location.bank, bank) {
        (Some(meant), Some(bank)) if meant == bank => same_bank,
        (Some(_), Some(_)) => elsewhere,
        (Some(_), None) => same_bank.map(|region, share| 0.5 * (share + elsewhere[region])),
        (None, _) => same_bank,
    }
}

#[cfg(test)]
mod tests;
