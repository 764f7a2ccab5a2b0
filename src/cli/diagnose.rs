//! `pintle diagnose`: what the captures of one car say, what it may be, what to do next.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{
    captured::Pool,
    failure::Failure,
    files,
    filing::{self, Filing, Job},
    one_car::{SameCar, described_by_first},
    output, terminal,
};
use crate::{
    diagnose::{Priors, Tables, diagnose_with_bench, diagnosis::Warning},
    job::Kind,
    report::{json, text},
};

/// Diagnose a car from its captures.
///
/// Lists the causes with their probability and evidence, the check to do next, and the treatment worth its money.
/// Several captures of the same car are judged together, each as one trip. Captures of two cars are refused.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle diagnose captures/van3-injector-3-down-30.capture.csv.gz\n\
        \x20 pintle diagnose captures/wagon2-bank-2-lean-injectors.capture.csv.gz --json\n\
        \n\
        In a job, with all its captures and readings:\n\
        \x20 pintle diagnose --job visit")]
pub struct Arguments {
    /// The captures, plain or compressed; with `--job`, those on its side of the job.
    #[arg(required_unless_present = "job", value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
    /// The vehicle file; without it, the vehicle in the first capture's header.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Readings taken by hand on this car, in the form that `pintle bench --new` writes.
    #[arg(long, value_name = "FILE")]
    bench: Option<PathBuf>,
    /// Your own table of how common each cause is (TOML).
    #[arg(long, value_name = "FILE")]
    priors: Option<PathBuf>,
    #[command(flatten)]
    filing: Filing,
    #[command(flatten)]
    same_car: SameCar,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let tables = tables(arguments.priors.as_deref())?;
    let given = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    let job = arguments.filing.open()?;
    let captures = match &job {
        Some(job) if arguments.captures.is_empty() => job.captures()?,
        _ => arguments.captures.clone(),
    };
    let read = Pool::read(&captures)?;
    let mut seen = read.sightings();
    if let Some(job) = &job {
        seen.extend(job.sightings_beside(&captures)?);
    }
    let described = described_by_first(
        arguments.vehicle.as_deref().zip(given.as_ref()),
        job.as_ref().and_then(Job::described),
        read.vehicle(),
    );
    let said = arguments.same_car.check(&seen, described.as_ref())?;
    let recorded = read.vehicle().map(|(_, vehicle)| vehicle.clone());
    let vehicle = match (given, &job) {
        (Some(vehicle), _) => vehicle,
        (None, Some(job)) => job.vehicle(recorded),
        (None, None) => recorded.unwrap_or_default(),
    };
    let bench = match (&arguments.bench, &job) {
        (Some(path), _) => Some(files::read_bench(path, &vehicle)?),
        (None, Some(job)) => filing::latest_readings(&job.folder, job.side, &vehicle)?,
        (None, None) => None,
    };
    let mut diagnosis = diagnose_with_bench(&read.summaries(), &vehicle, &tables, bench.as_ref());
    diagnosis.warnings.splice(
        0..0,
        said.into_iter()
            .chain(read.remarks.clone())
            .map(Warning::Captures),
    );
    let names = read.names();
    let document = json::document(&diagnosis, &names, &vehicle);
    if let Some(job) = &job {
        job.file_json(Kind::Diagnosis, &document)?;
    }
    if arguments.json {
        return output::print_json(&document);
    }
    output::print_finding(&text::render(&diagnosis, terminal::width()))
}

/// The tables that come with the program.
pub(super) fn standard_tables() -> Result<Tables, Failure> {
    Tables::standard().map_err(|error| {
        Failure::new(
            "built-in tables",
            error,
            "this program is damaged: install it again",
        )
    })
}

fn tables(priors: Option<&Path>) -> Result<Tables, Failure> {
    let standard = standard_tables()?;
    let Some(path) = priors else {
        return Ok(standard);
    };
    let priors = Priors::from_toml(&files::read_text(path)?)
        .map_err(|error| Failure::new(path.display(), error, "correct that entry"))?;
    Ok(Tables { priors, ..standard })
}
