//! Does the correction stay while nothing misfires? Where seconds with and without misfires were
//! seen, the difference of their means is the misfires' own oxygen; a mixture that is wrong by
//! itself stays.

use crate::{
    bank::Bank,
    series::{label::region::Region, summary::Summary},
    statistics::density::log_student_t,
};

use super::{Case, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources};

/// The difference, where seconds with and without misfires were both seen.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let trims = sources.summaries.iter().flat_map(|summary| &summary.trims);
    let falls = trims.filter_map(|trim| Some(trim.mean_log - trim.without_misfire?.0));
    let points = falls.map(|fall| 100.0 * fall).reduce(f64::max);
    let fact = points.map(Fact::TrimWithoutMisfires);
    Some(Piece::new(Contrast::new(sources.summaries)?, fact))
}

/// The controller follows slowly and counters are read in rounds, so that only a part of the
/// difference shows.
const SHOWS: f64 = 0.5;
/// Beside the measured error: what quiet and misfiring seconds differ by otherwise (assumed).
const OTHERWISE: f64 = 0.010;

/// One bank in one region: all seconds minus quiet seconds.
#[derive(Debug, Clone, Copy)]
struct Difference {
    bank: Bank,
    region: Region,
    y: f64,
    error: f64,
}

/// All such differences.
#[derive(Debug, Clone)]
pub struct Contrast(Vec<Difference>);

impl Contrast {
    /// Takes the captures together; `None` where quiet seconds cannot be told apart.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let trims = summaries.iter().flat_map(|summary| &summary.trims);
        let differences = trims.filter_map(|trim| {
            let (quiet, error) = trim.without_misfire?;
            Some(Difference {
                bank: Bank::numbered(trim.bank)?,
                region: trim.region,
                y: trim.mean_log - quiet,
                error,
            })
        });
        let all: Vec<_> = differences.collect();
        (!all.is_empty()).then_some(Self(all))
    }
}

impl Evidence for Contrast {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        let one = |difference: &Difference| {
            let oxygen = case.prediction.misfire_oxygen[difference.bank][difference.region];
            let residual = difference.y - SHOWS * oxygen;
            let variance = difference.error * difference.error + OTHERWISE * OTHERWISE;
            log_student_t(residual * residual / variance, 1.0, DEGREES_OF_FREEDOM)
        };
        self.0.iter().map(one).sum()
    }
}
