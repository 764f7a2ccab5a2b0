//! What follows from the odds: checks, treatment and cautions.

use crate::{
    bench::{Electrical, Findings, Flow, Injector, Leakage, Power, Rail},
    cause::Cause,
    caution::Caution,
    vehicle::{AirMetering, Injection, Vehicle},
};

use super::{
    car_evidence::CarEvidence,
    circumstances::Circumstances,
    combine,
    diagnosis::{Diagnosis, InjectorAdvice, MisfireSource, Warning},
    tables::Tables,
};

/// Adds checks, treatment and cautions to what was found.
pub fn add(diagnosis: &mut Diagnosis, vehicle: &Vehicle, tables: &Tables, car: &CarEvidence) {
    let direct = vehicle.injection == Some(Injection::Direct);
    let circumstances = Circumstances {
        seconds: combine::seconds_by_region(&diagnosis.trims),
        counters: diagnosis.misfires.source == MisfireSource::Counters,
        heavy_misfire: diagnosis.misfires.is_heavy(),
        banks: car.banks().count(),
        direct,
        without_maf_sensor: vehicle.air_metering == Some(AirMetering::Map),
        cylinders: car.likely_cylinders(),
        done: diagnosis.bench.as_ref().map_or_else(Vec::new, done),
    };
    diagnosis.banks = car.banks().count();
    diagnosis.next_checks = tables.checks.rank(&diagnosis.causes, &circumstances);
    diagnosis.circumstances = circumstances;
    let (cylinders, banks) = (car.likely_cylinders(), car.banks().count());
    let of_bank = cylinders / banks as f64;
    if !diagnosis.clears_injectors() {
        let causes = &diagnosis.causes;
        let dead_coil = diagnosis.has_dead_coil();
        let actions = &tables.actions;
        diagnosis.treatment = actions.rank(causes, of_bank, banks, vehicle, dead_coil);
        diagnosis.after_treatment = tables.actions.after().to_vec();
    }
    diagnosis.injector_advice = injector_advice(diagnosis);
    let unknown_price = tables.actions.unknown_price(vehicle);
    let planned_for_port = vehicle.injection.is_none() && !diagnosis.treatment.is_empty();
    let unknown_kind = planned_for_port.then_some(Warning::InjectionNotStated);
    let warnings = unknown_price.into_iter().chain(unknown_kind);
    diagnosis.warnings.extend(warnings);
    if direct {
        mind_the_rail(diagnosis);
    }
    if diagnosis.misfires.is_heavy() {
        mind_the_catalyst(diagnosis);
    }
    diagnosis.cautions = cautions(diagnosis);
}

/// Probability of the injectors, 0 to 1, from which treating them is advised before any further check (assumed; the
/// odds do not depend on it, only the sentence of advice).
const WORTH_MONEY: f64 = 0.6;

/// Whether to treat the injectors at all.
fn injector_advice(diagnosis: &Diagnosis) -> Option<InjectorAdvice> {
    let injectors = diagnosis.injector_probability();
    let dead = diagnosis.probability_of(Cause::InjectorDead) > 0.5 * injectors;
    let first = diagnosis.causes.first()?.cause;
    Some(match first {
        _ if diagnosis.has_dead_coil() => InjectorAdvice::ReplaceDead,
        Cause::NoneFound if diagnosis.clears_injectors() => InjectorAdvice::NothingToTreat,
        _ if diagnosis.clears_injectors() => InjectorAdvice::NotTheInjectors,
        _ if dead => InjectorAdvice::ProbablyDead,
        _ if injectors < WORTH_MONEY => InjectorAdvice::InDoubt,
        _ => InjectorAdvice::Treat,
    })
}

/// Identifiers of the checks whose readings the bench form holds for every injector.
fn done(found: &Findings) -> Vec<String> {
    let every = |measured: fn(&Injector) -> bool| {
        !found.injectors.is_empty() && found.injectors.iter().all(measured)
    };
    let rail = |measured: fn(&Rail) -> bool| found.rail.as_ref().is_some_and(measured);
    let checks = [
        (
            "coil_resistance",
            every(|one| one.ohms_at_20c.is_some() || one.electrical != Electrical::Unknown),
        ),
        ("click_and_pulse", every(|one| one.click.is_some())),
        ("power_balance", every(|one| one.power != Power::Unknown)),
        ("pressure_drop", every(|one| one.flow != Flow::Unknown)),
        (
            "flow_bench",
            every(|one| one.flow != Flow::Unknown && one.leakage != Leakage::Unknown),
        ),
        (
            "rail_pressure",
            rail(|rail| rail.in_range.is_some() && rail.fall_in_ten_minutes_kpa.is_some()),
        ),
    ];
    let made = checks.into_iter().filter(|(_, made)| *made);
    made.map(|(check, _)| check.to_owned()).collect()
}

/// Adds the high-pressure caution to each step that opens the fuel system of a direct-injection engine.
fn mind_the_rail(diagnosis: &mut Diagnosis) {
    for cautions in steps(diagnosis) {
        if let Some(at) = cautions.iter().position(|c| *c == Caution::FuelPressure) {
            cautions.insert(at + 1, Caution::HighPressureRail);
        }
    }
}

/// Adds the catalyst caution to each step that runs the engine while a cylinder misfires heavily.
fn mind_the_catalyst(diagnosis: &mut Diagnosis) {
    let runs = |cautions: &[Caution]| {
        let running = [Caution::ExhaustGas, Caution::Road];
        cautions.iter().any(|caution| running.contains(caution))
    };
    for cautions in steps(diagnosis) {
        if runs(cautions) && !cautions.contains(&Caution::Catalyst) {
            cautions.insert(0, Caution::Catalyst);
        }
    }
}

/// The cautions of every check, action and step after the work.
fn steps(diagnosis: &mut Diagnosis) -> impl Iterator<Item = &mut Vec<Caution>> {
    let checks = diagnosis
        .next_checks
        .iter_mut()
        .map(|check| &mut check.cautions);
    let actions = diagnosis
        .treatment
        .iter_mut()
        .map(|action| &mut action.cautions);
    let after = diagnosis
        .after_treatment
        .iter_mut()
        .map(|step| &mut step.cautions);
    checks.chain(actions).chain(after)
}

/// All cautions, each once: first those of the state found, then those of the steps.
fn cautions(diagnosis: &Diagnosis) -> Vec<Caution> {
    let heavy = diagnosis.misfires.is_heavy();
    let mut all: Vec<Caution> = heavy.then_some(Caution::Catalyst).into_iter().collect();
    let checks = diagnosis.next_checks.iter().map(|check| &check.cautions);
    let actions = diagnosis.treatment.iter().map(|action| &action.cautions);
    let after = diagnosis.after_treatment.iter().map(|step| &step.cautions);
    for caution in checks.chain(actions).chain(after).flatten() {
        if !all.contains(caution) {
            all.push(*caution);
        }
    }
    all
}
