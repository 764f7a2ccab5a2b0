//! Does the fuel trim move when purge is commanded open and shut (PID 2E)?
//!
//! A valve that hangs open flows the same whatever is commanded. A valve that follows draws what the canister holds:
//! much, little or nothing. So a difference speaks against a hanging valve, and no difference supports it only weakly.
//! A large one supports a valve that flows more than is commanded, or a canister that holds fuel.

use crate::{series::summary::Summary, statistics::density::log_mixture};

use super::{super::forward::Prediction, Case, Evidence, Fact, Piece, Sources};

/// Difference between purge open and shut on a car whose valve follows, as triples of probability, mean and standard
/// deviation, the latter two as logarithms: canister empty, or not (common practice: a full one lowers the trim by 3 to
/// 10 points at idle).
const DRAWN: [(f64, f64, f64); 2] = [(0.6, -0.002, 0.006), (0.4, -0.03, 0.03)];
/// Standard deviation of the difference between purge open and shut where the valve hangs, as a logarithm (assumed).
const HANGS: f64 = 0.004;
/// Difference between purge open and shut where the valve flows too much whenever it is commanded, mean and standard
/// deviation as logarithms (assumed: what a valve that is faulty enough to be noticeable at idle does when it is
/// opened).
const FLOODS: (f64, f64) = (-0.08, 0.05);
/// Probability, 0 to 1, that a valve that does not shut, and does not hang, flows too much (assumed).
const FLOODED: f64 = 0.4;
/// Seconds with purge open, and with purge shut, from which a region counts (assumed).
const LEAST_S: f64 = 20.0;

/// Evidence from the difference, where purge open and shut were both recorded.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let purge = PurgeEvidence::new(sources.summaries)?;
    let (difference_log, std_error_log) = purge.difference();
    let fact = Fact::Purge {
        difference_log,
        std_error_log,
    };
    Some(Piece::new(purge, Some(fact)))
}

/// Differences between purge open and shut by region with their errors, as logarithms.
#[derive(Debug, Clone)]
pub struct PurgeEvidence {
    contrasts: Vec<(f64, f64)>,
    follows: f64,
    hangs: f64,
    floods: f64,
}

impl PurgeEvidence {
    /// Combines the captures; `None` where open and shut were not both recorded in any region.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let all = summaries.iter().flat_map(|summary| &summary.purge);
        let long = all.filter(|c| c.open_seconds >= LEAST_S && c.shut_seconds >= LEAST_S);
        let contrasts: Vec<(f64, f64)> = long
            .map(|contrast| (contrast.open_less_shut_log, contrast.std_error_log))
            .collect();
        let of = |middle: f64, spread: f64| -> f64 {
            let one = |(difference, error): &(f64, f64)| {
                let spread = spread.hypot(*error);
                let away = (difference - middle) / spread;
                -0.5 * away * away - spread.ln()
            };
            contrasts.iter().map(one).sum()
        };
        let drawn = DRAWN.map(|(weight, middle, spread)| (weight, of(middle, spread)));
        let (follows, hangs) = (log_mixture(drawn), of(0.0, HANGS));
        let (middle, spread) = FLOODS;
        let floods = of(middle, spread);
        (!contrasts.is_empty()).then_some(Self {
            contrasts,
            follows,
            hangs,
            floods,
        })
    }

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        let hangs = prediction.purge_hangs;
        if hangs > 0.0 {
            let moves = 1.0 - hangs;
            log_mixture([
                (hangs, self.hangs),
                (moves * FLOODED, self.floods),
                (moves * (1.0 - FLOODED), self.follows),
            ])
        } else {
            self.follows
        }
    }

    /// Fuel trim with purge commanded open less that with purge commanded shut, as a logarithm, and its standard error:
    /// the mean over the regions, weighted by their precision.
    pub fn difference(&self) -> (f64, f64) {
        let (sum, weights) = self
            .contrasts
            .iter()
            .fold((0.0, 0.0), |(sum, all), (y, error)| {
                let weight = error.max(1e-4).powi(-2);
                (sum + weight * y, all + weight)
            });
        (sum / weights, weights.sqrt().recip())
    }
}

impl Evidence for PurgeEvidence {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::{label::region::Region, summary::PurgeContrast};

    fn seen(difference: f64) -> PurgeEvidence {
        let contrast = PurgeContrast {
            region: Region::WarmIdle,
            open_less_shut_log: difference,
            std_error_log: 0.004,
            open_seconds: 200.0,
            shut_seconds: 60.0,
        };
        let summary = Summary {
            purge: vec![contrast],
            ..Summary::default()
        };
        PurgeEvidence::new(&[summary]).unwrap()
    }

    fn for_hanging(difference: f64) -> f64 {
        let hanging = Prediction {
            purge_hangs: 1.0,
            ..Prediction::default()
        };
        let purge = seen(difference);
        purge.under(&hanging) - purge.under(&Prediction::default())
    }

    /// By hand, at no difference with an error of 0.004: hanging 1 / √(2 · 0.004²) = 176.8; following 0.6 / √(0.006² + 0.004²)
    /// · exp(−0.5 (0.002 / 0.00721)²) = 80.1 and 0.4 / 0.03027 · exp(−0.5 (0.03 / 0.03027)²) = 8.1: 176.8 / 88.2 = 2.0.
    #[test]
    fn no_difference_speaks_softly_for_a_hanging_valve_and_any_against_it() {
        assert!((for_hanging(0.0) - 2.0_f64.ln()).abs() < 0.02);
        assert!(for_hanging(-0.06) < -8.0);
        assert!(for_hanging(0.03) < -2.0);
    }

    /// By hand, 12 points lower, error 0.004: following 0.4 / 0.03027 · exp(−0.5 (0.09 / 0.03027)²) = 0.159; flooding
    /// 1 / 0.05016 · exp(−0.5 (0.04 / 0.05016)²) = 14.5; half of 0.4 · 14.5 + 0.6 · 0.159 is 2.95: 18.6 times.
    #[test]
    fn a_large_fall_speaks_for_purge_that_brings_too_much() {
        let half = Prediction {
            purge_hangs: 0.5,
            ..Prediction::default()
        };
        let purge = seen(-0.12);
        let odds = purge.under(&half) - purge.under(&Prediction::default());
        assert!((odds - 18.6_f64.ln()).abs() < 0.03, "{odds}");
    }

    #[test]
    fn what_was_not_seen_with_both_says_nothing() {
        assert!(PurgeEvidence::new(&[Summary::default()]).is_none());
    }
}
