//! The ethanol content that the car itself reports (PID 52), as evidence about the fuel blend.
//!
//! Some cars measure it, most compute it from their own fuel trims and may be wrong or late; so a report is believed in
//! part only. All probabilities are common practice.

use crate::{series::summary::Summary, statistics::density::normal};

use super::{super::forward::Prediction, Case, Evidence, Fact, Piece, Sources};

/// Evidence from the reported ethanol content; `None` where the car reports none.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let mut reports = sources.summaries.iter().filter_map(|s| s.facts.ethanol_pct);
    let fact = reports.next_back().map(Fact::Ethanol);
    Some(Piece::new(Fuel::new(sources.summaries)?, fact))
}

impl Evidence for Fuel {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }
}

/// Probability that a report follows the blend in the tank, 0 to 1.
const FOLLOWS: f64 = 0.6;
/// Standard deviation of a report that follows the blend, as a share of volume.
const CLOSENESS: f64 = 0.10;
/// Ethanol in ordinary petrol, as a share of volume (E10).
const USUAL: f64 = 0.10;
/// Ethanol content up to which a report counts as ordinary, as a share of volume (assumed).
const ORDINARY: f64 = 0.15;
/// Share of reports up to [`ORDINARY`] where a report does not follow the blend, 0 to 1 (assumed).
const SHARE_ORDINARY: f64 = 0.85;

/// Ethanol content that the car reports, as a share of volume, 0 to 1.
#[derive(Debug, Clone, Copy)]
pub struct Fuel(f64);

impl Fuel {
    /// The latest report; `None` where the car gives none.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let reports = summaries.iter().filter_map(|s| s.facts.ethanol_pct);
        reports
            .map(|pct| Self((pct / 100.0).clamp(0.0, 1.0)))
            .next_back()
    }

    /// Log-likelihood of the report, up to a constant common to all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        let ordinary = if self.0 <= ORDINARY {
            SHARE_ORDINARY / ORDINARY
        } else {
            (1.0 - SHARE_ORDINARY) / (1.0 - ORDINARY)
        };
        let change = prediction.ethanol_change;
        if change == 0.0 {
            return ordinary.ln();
        }
        let away = (self.0 - (USUAL + change).clamp(0.0, 1.0)) / CLOSENESS;
        let follows = normal(away, CLOSENESS);
        (FOLLOWS * follows + (1.0 - FOLLOWS) * ordinary).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 55 % reported is 0.6 x 3.989 + 0.4 x 0.1765 = 2.464 for a change of 45 points, against 0.1765.
    #[test]
    fn a_report_speaks_for_the_change_that_it_fits_and_never_decides_alone() {
        let changed = |ethanol_change| Prediction {
            ethanol_change,
            ..Prediction::default()
        };
        let much = Fuel(0.55);
        let odds = |fuel: Fuel, change| fuel.under(&changed(change)) - fuel.under(&changed(0.0));
        assert!((odds(much, 0.45) - (2.464_f64 / 0.1765).ln()).abs() < 0.01);
        assert!(odds(Fuel(0.10), 0.45) < 0.0);
        assert!(odds(Fuel(0.10), 0.45) > 0.4_f64.ln() - 0.01);
    }
}
