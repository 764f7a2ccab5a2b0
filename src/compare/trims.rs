//! Statements on fuel trims: levels, bank against bank, standing against driving, each with its interval.

use statrs::distribution::{ContinuousCDF, Normal};

use crate::series::label::region::Region;

use super::{
    comparison::{Change, Limits, Verdict},
    matching::{Matched, SideMean, TripShare},
    spread::Spread,
};

/// Matched seconds below which no statement is made (assumed).
pub const LEAST_S: f64 = 30.0;

/// Standard deviation of the fuel trims of sound cars from zero, besides the variation of one trip, as a logarithm:
/// nearly all are within 5 points (common practice), a standard deviation of 2.5 points, of which the trip has 2.0.
const SOUND_CARS: f64 = 0.015;
/// Standard deviations from zero beyond which a mean is not a sound car's (about 95 %).
const SOUND_ERRORS: f64 = 2.0;
/// Odds from which one of two means is taken as the sound one: the least worth a mention (Kass and Raftery, *Journal of
/// the American Statistical Association* 90 (1995) 773–795).
const TELLING_ODDS: f64 = 3.0;
/// Prior odds that a real change is for the better: work seldom spoils a sound engine (common practice: a few jobs in a
/// hundred come back), so that two to one is careful.
const FOR_THE_BETTER: f64 = 2.0;
/// Odds that a fault which moves a level raises it: the weights of the causes that do so (without those that only
/// misfire) are 3.2 times those of the causes that lower it in the table of priors, which is common practice.
pub const FAULT_IS_LEAN: f64 = 3.0;

/// A statement before it is converted to percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// Means of y = ln C before and after.
    pub mean_log: [f64; 2],
    /// Variance of the difference, in squared logarithm, that more trips reduce only in part.
    pub between: f64,
    /// Variance of the difference, in squared logarithm, that more minutes reduce.
    pub inside: f64,
    /// Variance, in squared logarithm, that both sides share: it cancels in the difference but not in the distance from
    /// zero.
    pub shared: f64,
    /// Matched seconds.
    pub seconds: f64,
    /// Odds that a fault raises the value rather than lowering it; 1 where neither is usual.
    pub fault_raises: f64,
}

/// Statement on a bank's fuel trim, all regions together; `None` where too little was matched.
pub fn level(matched: &[Matched], spread: &Spread) -> Option<Statement> {
    Some(Statement {
        fault_raises: FAULT_IS_LEAN,
        ..together(matched, spread)?
    })
}

/// Statement on all regions together, each weighted by its precision; for the difference of two banks, of which either
/// may be the faulty one.
pub fn together(matched: &[Matched], spread: &Spread) -> Option<Statement> {
    let seconds: f64 = matched.iter().map(|m| m.seconds).sum();
    let worth: Vec<f64> = matched.iter().map(|m| worth(m, spread)).collect();
    let total: f64 = worth.iter().sum();
    let weights = worth.iter().map(|worth| worth / total).collect();
    (seconds >= LEAST_S).then(|| combined(matched, weights, spread, seconds))
}

/// Statement on standing minus driving; `None` where too little was matched.
pub fn standing_against_driving(matched: &[Matched], spread: &Spread) -> Option<Statement> {
    let stands = |m: &Matched| matches!(m.region, Region::WarmIdle | Region::RaisedIdle);
    let sum = |standing: bool, of: &dyn Fn(&Matched) -> f64| -> f64 {
        matched
            .iter()
            .filter(|m| stands(m) == standing)
            .map(of)
            .sum()
    };
    let worth = |m: &Matched| worth(m, spread);
    let (standing, driving) = (sum(true, &worth), sum(false, &worth));
    let weights = matched.iter().map(|m| {
        if stands(m) {
            worth(m) / standing
        } else {
            -worth(m) / driving
        }
    });
    let seconds = [true, false].map(|standing| sum(standing, &|m| m.seconds));
    let seconds = seconds.into_iter().fold(f64::INFINITY, f64::min);
    let weights = weights.collect();
    (seconds >= LEAST_S).then(|| combined(matched, weights, spread, seconds))
}

/// Weight of a region: one over the variance of its difference that the regions do not share. Such weights give the
/// least error (Gauss and Markov), as what all regions of a trip share does not depend on them.
fn worth(matched: &Matched, spread: &Spread) -> f64 {
    let trips = matched.sides.iter().flat_map(|side| &side.trips);
    let error = |trip: &TripShare| trip.weight.powi(2) * (spread.region.powi(2) + trip.inside);
    1.0 / trips.map(error).sum::<f64>()
}

fn combined(matched: &[Matched], weights: Vec<f64>, spread: &Spread, seconds: f64) -> Statement {
    let whole: f64 = weights.iter().sum();
    let (mut between, mut inside) = (0.0, 0.0);
    let mean_log = [0, 1].map(|index| {
        let sides = matched.iter().filter_map(|m| m.sides.get(index));
        let sides: Vec<(&SideMean, f64)> = sides.zip(weights.iter().copied()).collect();
        between += (whole * spread.side).powi(2);
        let trips = sides.first().map_or(0, |(side, _)| side.trips.len());
        for trip in 0..trips {
            let shares = sides.iter().filter_map(|(side, weight)| {
                let share = side.trips.get(trip)?;
                Some((weight * share.weight, share.inside))
            });
            let together: f64 = shares.clone().map(|(weight, _)| weight).sum();
            between += (together * spread.trip).powi(2);
            for (weight, error) in shares {
                between += (weight * spread.region).powi(2);
                inside += weight * weight * error;
            }
        }
        sides
            .iter()
            .map(|(side, weight)| weight * side.mean_log)
            .sum()
    });
    Statement {
        mean_log,
        between,
        inside,
        shared: whole.powi(2) * spread.one_tank(),
        seconds,
        fault_raises: 1.0,
    }
}

impl Statement {
    /// Half-width of the interval at a level (0.95 for 95 %), as a logarithm.
    pub fn half_log(&self, confidence: f64) -> f64 {
        errors_of(confidence) * (self.between + self.inside).sqrt()
    }

    /// The change in percent, with its verdict.
    pub fn change(&self, confidence: f64, limits: &Limits) -> Change {
        let [before, after] = self.mean_log;
        let half = self.half_log(confidence);
        // after − before in points, both ends on the same mean before
        let points = |difference: f64| 100.0 * (before + difference).exp() - 100.0 * before.exp();
        let difference = after - before;
        let mut change = Change {
            before_pct: 100.0 * before.exp_m1(),
            after_pct: 100.0 * after.exp_m1(),
            difference_pct: points(difference),
            low_pct: points(difference - half),
            high_pct: points(difference + half),
            matched_seconds: self.seconds,
            towards_sound_pct: 0.0,
            verdict: Verdict::CannotTell,
        };
        change.towards_sound_pct = self.towards_sound() * change.difference_pct.abs();
        change.verdict = judged(&change, limits.trim_points);
        change
    }

    /// Direction of a difference: 1 towards a sound engine, −1 away from it, in between for the part that is towards
    /// it.
    ///
    /// One side is taken as sound where one can be: the odds for the second against the first are the prior odds times
    /// those of their distances from zero under the spread of sound cars. Where these are inconclusive, or neither can
    /// be sound, only the approach to zero counts.
    fn towards_sound(&self) -> f64 {
        let [before, after] = self.mean_log;
        let one_side = (self.between + self.inside) / 2.0;
        let spread = SOUND_CARS.powi(2) + one_side + self.shared;
        let faulty_before = if after < before {
            self.fault_raises
        } else {
            self.fault_raises.recip()
        };
        let beforehand = (FOR_THE_BETTER * faulty_before).ln();
        let log_odds = (before * before - after * after) / (2.0 * spread) + beforehand;
        let nearer = before.abs().min(after.abs());
        if nearer <= SOUND_ERRORS * spread.sqrt() && log_odds.abs() >= TELLING_ODDS.ln() {
            log_odds.signum()
        } else {
            (before.abs() - after.abs()) / (before - after).abs().max(f64::MIN_POSITIVE)
        }
    }
}

/// Standard errors on either side of an interval at this confidence.
pub fn errors_of(confidence: f64) -> f64 {
    let normal = Normal::standard();
    normal.inverse_cdf(0.5 + confidence / 2.0)
}

/// Verdict: better when the interval excludes no change and the trim moved towards a sound engine by as much as
/// matters; worse the other way.
fn judged(change: &Change, limit: f64) -> Verdict {
    let moved = change.low_pct > 0.0 || change.high_pct < 0.0;
    match moved {
        true if change.towards_sound_pct >= limit => Verdict::Better,
        true if change.towards_sound_pct <= -limit => Verdict::Worse,
        _ if change.low_pct > -limit && change.high_pct < limit => Verdict::NoChange,
        _ => Verdict::CannotTell,
    }
}
