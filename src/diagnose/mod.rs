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
    vehicle::{Injection, Vehicle},
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
    diagnosis.causes = posterior::findings(&hypotheses, &explainer);
    advise(&mut diagnosis, vehicle, tables, &readings);
    diagnosis
}

fn advise(diagnosis: &mut Diagnosis, vehicle: &Vehicle, tables: &Tables, readings: &Readings) {
    let direct = vehicle.injection == Some(Injection::Direct);
    let circumstances = Circumstances {
        seconds: combine::seconds_by_region(&diagnosis.trims),
        counters: diagnosis.misfires.source == diagnosis::MisfireSource::Counters,
        banks: readings.banks(),
        direct,
        cylinders: readings.likely_cylinders(),
    };
    diagnosis.banks = readings.banks();
    diagnosis.next_checks = tables.checks.rank(&diagnosis.causes, &circumstances);
    let (cylinders, banks) = (readings.likely_cylinders(), readings.banks());
    let of_bank = cylinders / banks as f64;
    diagnosis.treatment = tables
        .actions
        .rank(&diagnosis.causes, of_bank, banks, vehicle);
    if direct {
        mind_the_rail(diagnosis);
    }
    diagnosis.cautions = cautions(diagnosis);
}

/// On a direct-injection engine opening the fuel system is more dangerous.
fn mind_the_rail(diagnosis: &mut Diagnosis) {
    let checks = diagnosis
        .next_checks
        .iter_mut()
        .map(|check| &mut check.cautions);
    let actions = diagnosis
        .treatment
        .iter_mut()
        .map(|action| &mut action.cautions);
    for cautions in checks.chain(actions) {
        if let Some(place) = cautions.iter().position(|c| *c == Caution::FuelPressure) {
            cautions.insert(place + 1, Caution::HighPressureRail);
        }
    }
}

/// First what the state found calls for, then the steps' own, each once.
fn cautions(diagnosis: &Diagnosis) -> Vec<Caution> {
    let heavy = diagnosis.misfires.is_heavy();
    let mut all: Vec<Caution> = heavy.then_some(Caution::Catalyst).into_iter().collect();
    let checks = diagnosis.next_checks.iter().map(|check| &check.cautions);
    let actions = diagnosis.treatment.iter().map(|action| &action.cautions);
    for caution in checks.chain(actions).flatten() {
        if !all.contains(caution) {
            all.push(*caution);
        }
    }
    all
}

#[cfg(test)]
mod tests;
