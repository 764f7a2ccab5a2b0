//! The judgement: what each cause predicts, scored against the readings.

mod advice;
mod candidate;
mod car_evidence;
mod circumstances;
mod combine;
pub mod diagnosis;
mod engine;
mod evidence;
mod fact;
mod flow_check;
mod forward;
mod healthy;
mod hypothesis;
mod ladder;
mod next_check;
mod pair;
mod posterior;
mod prior;
mod scoring;
mod table_error;
mod tables;
mod treatment;

use crate::{
    bench,
    series::{summary::Summary, warning::NotJudged},
    vehicle::Vehicle,
};

pub use circumstances::Circumstances;
pub use diagnosis::{Diagnosis, FlowCheck};
pub use fact::{Against, BenchFact, Fact, Tank};
pub use next_check::Checks;
pub use prior::Priors;
pub use table_error::TableError;
pub use tables::Tables;

use car_evidence::CarEvidence;
use evidence::bench::Bench;

/// Judges the captures of one car together.
pub fn diagnose(summaries: &[Summary], vehicle: &Vehicle, tables: &Tables) -> Diagnosis {
    diagnose_with_bench(summaries, vehicle, tables, None)
}

/// Judges the captures of one car together with its bench readings.
pub fn diagnose_with_bench(
    summaries: &[Summary],
    vehicle: &Vehicle,
    tables: &Tables,
    bench: Option<&bench::Readings>,
) -> Diagnosis {
    let mut diagnosis = combine::readings(summaries);
    if let Some(read) = bench {
        let found = bench::findings(read, vehicle);
        diagnosis.flow_checks = flow_check::of(read, vehicle, &diagnosis.trims, summaries.len());
        diagnosis.bench = Some(found);
    }
    if diagnosis.not_judged == Some(NotJudged::Diesel) {
        return diagnosis;
    }
    let found = diagnosis.bench.as_ref();
    let on_bench = bench
        .zip(found)
        .map(|(read, found)| Bench::new(read, found, vehicle));
    let car = CarEvidence::new(summaries, vehicle, &diagnosis, on_bench);
    let hypotheses = scoring::hypotheses(&car, &tables.priors);
    diagnosis.causes = posterior::findings(&hypotheses, &tables.priors, &car);
    advice::add(&mut diagnosis, vehicle, tables, &car);
    diagnosis
}

/// Whether the flows measured on the bench explain the fuel trims of these captures, bank by bank.
pub fn flow_checks(
    summaries: &[Summary],
    vehicle: &Vehicle,
    bench: &bench::Readings,
) -> Vec<FlowCheck> {
    let trims = combine::readings(summaries).trims;
    flow_check::of(bench, vehicle, &trims, summaries.len())
}

#[cfg(test)]
mod tests;
