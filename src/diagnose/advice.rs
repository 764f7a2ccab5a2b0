//! What follows from the odds: checks, treatment, and what to mind meanwhile.

use crate::{
    caution::Caution,
    vehicle::{Injection, Vehicle},
};

use super::{
    combine,
    diagnosis::{Diagnosis, MisfireSource},
    next_check::Circumstances,
    readings::Readings,
    tables::Tables,
};

/// Adds checks, treatment and cautions to what was found.
pub fn add(diagnosis: &mut Diagnosis, vehicle: &Vehicle, tables: &Tables, readings: &Readings) {
    let direct = vehicle.injection == Some(Injection::Direct);
    let circumstances = Circumstances {
        seconds: combine::seconds_by_region(&diagnosis.trims),
        counters: diagnosis.misfires.source == MisfireSource::Counters,
        banks: readings.banks(),
        direct,
        cylinders: readings.likely_cylinders(),
        done: Vec::new(),
    };
    diagnosis.banks = readings.banks();
    diagnosis.next_checks = tables.checks.rank(&diagnosis.causes, &circumstances);
    diagnosis.circumstances = circumstances;
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
