//! Load reported at full throttle as evidence about the MAF sensor: a sensor that reads low never reports full load.
//!
//! A controller may leave closed loop well before full throttle, so a load short of full is weak evidence by itself;
//! full load speaks for a sensor that does not read low.

use crate::{
    series::{label::region::Region, summary::Summary},
    statistics::density::normal,
};

use super::super::forward::Prediction;

/// Mean load that sound engines report at full throttle, as natural logarithm of the share of full load (common
/// practice: 85 to 100 %).
const SOUND: f64 = -0.06;
/// Standard deviation between sound engines of the load reported at full throttle, as a logarithm (common practice: 85
/// to 100 %).
const ENGINE: f64 = 0.07;
/// Probability, 0 to 1, that the controller enriched or the throttle was open without the engine being at full load
/// (assumed).
const NOT_ALL: f64 = 0.3;
/// Smallest share of full load then, 0 to 1 (assumed); any load from this one up is equally probable in the logarithm.
const LEAST_SHARE: f64 = 0.5;

/// The highest load reported at full throttle, as natural logarithm of its share of full load.
#[derive(Debug, Clone, Copy)]
pub struct FullLoadEvidence(f64);

impl FullLoadEvidence {
    /// The highest load over all captures; `None` where the engine was never at full throttle.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let reported = summaries.iter().filter_map(|s| s.facts.full_load_pct);
        let highest = reported
            .reduce(f64::max)
            .filter(|pct| *pct >= 100.0 * LEAST_SHARE)?;
        Some(Self((highest / 100.0).min(1.0).ln()))
    }

    /// The highest load, percent.
    pub fn pct(&self) -> f64 {
        100.0 * self.0.exp()
    }

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
    pub fn log_likelihood(&self, prediction: &Prediction) -> f64 {
        let metered = prediction.metered_log[Region::Loaded];
        // no engine reports more than full load
        let expected = (SOUND + metered).min(0.0);
        let away = (self.0 - expected) / ENGINE;
        let asked_for_all = normal(away, ENGINE);
        let not_all = 1.0 / -LEAST_SHARE.ln();
        ((1.0 - NOT_ALL) * asked_for_all + NOT_ALL * not_all).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::{label::region::ByRegion, summary::Facts};

    fn reported(full_load_pct: Option<f64>) -> Option<FullLoadEvidence> {
        let facts = Facts {
            full_load_pct,
            ..Facts::default()
        };
        FullLoadEvidence::new(&[Summary {
            facts,
            ..Summary::default()
        }])
    }

    fn reads(share: f64) -> Prediction {
        Prediction {
            metered_log: ByRegion::from_fn(|_| share.ln()),
            ..Prediction::default()
        }
    }

    /// By hand: 74 % is −0.3011; 0.75 of −0.06 away is −0.3477, 0.666 errors: 0.7 × 5.699 × 0.801 + 0.3 × 1.443 = 3.629. A
    /// sound meter is 3.444 errors away: 0.7 × 5.699 × 0.00266 + 0.433 = 0.4435.
    #[test]
    fn a_load_short_of_full_speaks_for_a_maf_sensor_that_reads_low_and_full_load_against_it() {
        let short = reported(Some(74.0)).unwrap();
        let odds = |load: &FullLoadEvidence| {
            load.log_likelihood(&reads(0.75)) - load.log_likelihood(&Prediction::default())
        };
        assert!(
            (odds(&short) - (3.629_f64 / 0.4435).ln()).abs() < 0.02,
            "{}",
            odds(&short)
        );
        assert!(odds(&reported(Some(97.0)).unwrap()) < -1.5);
    }

    #[test]
    fn an_engine_that_was_never_asked_for_all_says_nothing() {
        assert!(reported(None).is_none() && reported(Some(30.0)).is_none());
    }
}
