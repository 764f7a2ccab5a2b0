//! Statements on corrections: levels, bank against bank, standing against driving, each with its interval.

use statrs::distribution::{ContinuousCDF, Normal};

use crate::series::region::Region;

use super::{
    comparison::{Change, Limits, Verdict},
    matching::{Matched, SideMean},
    spread::Spread,
};

/// With less matched time nothing is said, s.
pub const LEAST_S: f64 = 30.0;

/// Sound cars' corrections stand as near to zero as this, points (from trip to trip of the measured car; see
/// [`super::spread`]).
const SOUND_POINTS: f64 = 2.0;

/// A statement before it is put into percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// Mean of y before and after.
    pub mean_log: [f64; 2],
    /// Squared errors of the difference: what more trips remove only in part, and what more minutes remove.
    pub between: f64,
    /// See `between`.
    pub inside: f64,
    /// Matched seconds.
    pub seconds: f64,
}

/// All regions together, each weighed by its matched time.
pub fn level(matched: &[Matched], spread: &Spread) -> Option<Statement> {
    let seconds: f64 = matched.iter().map(|m| m.seconds).sum();
    let weights = matched.iter().map(|m| m.seconds / seconds).collect();
    (seconds >= LEAST_S).then(|| combined(matched, weights, spread, seconds))
}

/// Standing minus driving.
pub fn standing_against_driving(matched: &[Matched], spread: &Spread) -> Option<Statement> {
    let stands = |m: &Matched| matches!(m.region, Region::WarmIdle | Region::RaisedIdle);
    let sum = |standing: bool| -> f64 {
        let own = matched.iter().filter(|m| stands(m) == standing);
        own.map(|m| m.seconds).sum()
    };
    let (standing, driving) = (sum(true), sum(false));
    let weights = matched.iter().map(|m| match stands(m) {
        true => m.seconds / standing,
        false => -m.seconds / driving,
    });
    let seconds = standing.min(driving);
    let weights = weights.collect();
    (seconds >= LEAST_S).then(|| combined(matched, weights, spread, seconds))
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
        seconds,
    }
}

impl Statement {
    /// Half the interval's width at a level (0.95 for 95 %), in y.
    pub fn half_log(&self, confidence: f64) -> f64 {
        errors_of(confidence) * (self.between + self.inside).sqrt()
    }

    /// The change in percent, judged.
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
            verdict: Verdict::CannotTell,
        };
        change.verdict = judged(&change, limits.trim_points);
        change
    }
}

/// Standard errors on either side of an interval.
pub fn errors_of(confidence: f64) -> f64 {
    let normal = Normal::standard();
    normal.inverse_cdf(0.5 + confidence / 2.0)
}

/// Better when the interval leaves out no change and the correction moved towards zero by as much as matters; worse the
/// other way.
fn judged(change: &Change, limit: f64) -> Verdict {
    let moved = change.low_pct > 0.0 || change.high_pct < 0.0;
    let towards_zero = towards_zero(change);
    match moved {
        true if towards_zero >= limit => Verdict::Better,
        true if towards_zero <= -limit => Verdict::Worse,
        _ if change.low_pct > -limit && change.high_pct < limit => Verdict::NoChange,
        _ => Verdict::CannotTell,
    }
}

/// How far a correction moved towards zero, or from it (negative), points. A sound car is not at zero itself: where one
/// end is as near to it as sound cars are, the whole way counts, and else how much nearer the other end is.
pub fn towards_zero(change: &Change) -> f64 {
    let (before, after) = (change.before_pct.abs(), change.after_pct.abs());
    match before.min(after) <= SOUND_POINTS {
        true => (before - after).signum() * change.difference_pct.abs(),
        false => before - after,
    }
}
