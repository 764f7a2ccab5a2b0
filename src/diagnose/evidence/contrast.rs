//! Does the fuel trim stay while no cylinder misfires? Where seconds with and without misfires were recorded, the
//! difference of their means is the effect of the misfires' oxygen; a mixture that is wrong by itself stays.

use crate::{
    bank::Bank,
    series::{label::region::Region, summary::Summary},
    statistics::density::log_student_t,
};

use super::{Case, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources};

/// Evidence from that difference, where seconds with and without misfires were both recorded.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let trims = sources.summaries.iter().flat_map(|summary| &summary.trims);
    let falls = trims.filter_map(|trim| Some(trim.mean_log - trim.without_misfire?.0));
    let points = falls.map(|fall| 100.0 * fall).reduce(f64::max);
    let fact = points.map(Fact::TrimWithoutMisfires);
    Some(Piece::new(
        MisfireContrastEvidence::new(sources.summaries)?,
        fact,
    ))
}

/// Share of the true difference that shows, 0 to 1 (assumed): the controller follows slowly and counters are read in
/// turns.
const SHOWS: f64 = 0.5;
/// Standard deviation between quiet and misfiring seconds for other reasons, as a logarithm, beside the measured error
/// (assumed).
const OTHERWISE: f64 = 0.010;

/// Fuel trim of all seconds less that of quiet seconds, for one bank (from 0) in one region.
#[derive(Debug, Clone, Copy)]
struct Difference {
    bank: Bank,
    region: Region,
    y: f64,
    error: f64,
}

/// All differences between all seconds and quiet seconds.
#[derive(Debug, Clone)]
pub struct MisfireContrastEvidence(Vec<Difference>);

impl MisfireContrastEvidence {
    /// Combines the captures; `None` where quiet seconds cannot be told apart.
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

impl Evidence for MisfireContrastEvidence {
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
