//! The judgement: what each cause predicts, scored against what was read.

mod combine;
pub mod diagnosis;
mod engine;
mod explain;
mod forward;
mod healthy;
mod hypothesis;
mod likelihood;
mod next_check;
mod posterior;
mod prior;
mod tables;
mod treatment;

use crate::{
    caution::Caution,
    series::summary::{NotJudged, Summary},
    vehicle::Vehicle,
};

pub use diagnosis::Diagnosis;
pub use explain::{at, thousands};
pub use prior::Priors;
pub use tables::{TableError, Tables};

use explain::Explainer;
use hypothesis::Readings;
use next_check::Circumstances;

/// Judges the captures of one car together.
pub fn diagnose(summaries: &[Summary], vehicle: &Vehicle, tables: &Tables) -> Diagnosis {
    let mut diagnosis = combine::readings(summaries);
    if diagnosis.not_judged == Some(NotJudged::Diesel) {
        return diagnosis;
    }
    let readings = Readings::new(summaries, vehicle);
    let hypotheses = readings.hypotheses(&tables.priors);
    let explainer = Explainer::new(
        summaries,
        &diagnosis.trims,
        &diagnosis.misfires,
        &diagnosis.codes,
    );
    diagnosis.causes = posterior::findings(&hypotheses, readings.banks(), &explainer);
    advise(&mut diagnosis, vehicle, tables, &readings);
    diagnosis
}

fn advise(diagnosis: &mut Diagnosis, vehicle: &Vehicle, tables: &Tables, readings: &Readings) {
    let circumstances = Circumstances {
        seconds: combine::seconds_by_region(&diagnosis.trims),
        counters: diagnosis.misfires.source == diagnosis::MisfireSource::Counters,
        banks: readings.banks(),
        cylinders: readings.likely_cylinders(),
    };
    let checks = tables.checks.rank(&diagnosis.causes, &circumstances);
    let treatment = tables.actions.rank(&diagnosis.causes, vehicle);
    let mut cautions: Vec<Caution> = combine::heavy_misfire(&diagnosis.misfires)
        .then_some(Caution::Catalyst)
        .into_iter()
        .collect();
    let steps = checks
        .iter()
        .map(|(_, of)| of)
        .chain(treatment.iter().map(|(_, of)| of));
    for caution in steps.flatten() {
        if !cautions.contains(caution) {
            cautions.push(*caution);
        }
    }
    diagnosis.next_checks = checks.into_iter().map(|(check, _)| check).collect();
    diagnosis.treatment = treatment.into_iter().map(|(action, _)| action).collect();
    diagnosis.cautions = cautions;
}

#[cfg(test)]
mod tests;
