//! The ethanol that the car itself reports (PID 52), as evidence about the blend.
//!
//! Some cars measure it, most work it out from their own corrections and may be wrong or late; so a
//! report is believed in part only. All chances are common practice.

use crate::{series::summary::Summary, statistics::density::normal};

use super::{super::forward::Prediction, Case, Evidence, Fact, Piece, Sources};

/// What the car reports, where it does.
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

/// Chance that a report follows the blend in the tank.
const FOLLOWS: f64 = 0.6;
/// How closely it then does, as a share of volume (standard deviation).
const CLOSENESS: f64 = 0.10;
/// Ethanol in ordinary petrol, as a share, and how much of what cars report lies up to `ORDINARY`.
const USUAL: f64 = 0.10;
const ORDINARY: f64 = 0.15;
const SHARE_ORDINARY: f64 = 0.85;

/// What the car reports, 0 to 1.
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

    /// Logarithm of the likelihood of the report, up to what is the same for all predictions.
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
