//! The judgement: what each cause predicts, scored against what was read.

mod advice;
mod combine;
pub mod diagnosis;
mod engine;
mod explain;
mod forward;
mod healthy;
mod hypothesis;
mod likelihood;
mod next_check;
mod pair;
mod posterior;
mod prior;
mod readings;
mod seat;
mod table_error;
mod tables;
mod treatment;

use crate::{
    series::summary::{NotJudged, Summary},
    vehicle::Vehicle,
};

pub use diagnosis::Diagnosis;
pub use explain::{at, thousands};
pub use next_check::{Checks, Circumstances};
pub use prior::Priors;
pub use table_error::TableError;
pub use tables::Tables;

use explain::Explainer;
use readings::Readings;

/// Judges the captures of one car together.
pub fn diagnose(summaries: &[Summary], vehicle: &Vehicle, tables: &Tables) -> Diagnosis {
    let mut diagnosis = combine::readings(summaries);
    if diagnosis.not_judged == Some(NotJudged::Diesel) {
        return diagnosis;
    }
    let readings = Readings::new(summaries, vehicle);
    let hypotheses = hypothesis::hypotheses(&readings, &tables.priors);
    let explainer = Explainer::new(
        summaries,
        &diagnosis.trims,
        &diagnosis.misfires,
        &diagnosis.codes,
    );
    diagnosis.causes = posterior::findings(&hypotheses, &explainer);
    advice::add(&mut diagnosis, vehicle, tables, &readings);
    diagnosis
}

#[cfg(test)]
mod tests;
