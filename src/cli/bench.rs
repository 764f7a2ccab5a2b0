//! `pintle bench`: what readings taken by hand say of each injector.

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
    bench::{Readings, empty_form, findings},
    diagnose::flow_checks,
    durable::put_new,
    job::{Kind, Side},
    quantity::Units,
    report::bench as report,
    vehicle::Vehicle,
};

/// Judge readings taken by hand or on the flow bench.
///
/// The form has winding resistance, click, pulse, pressure drops, flow bench, leakage, power balance and rail pressure.
/// Fill in what you measured and leave the rest empty.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle bench --new readings.toml\n\
        \x20 pintle bench readings.toml\n\
        \x20 pintle bench readings.toml \\\n\
        \x20     --against captures/van3-injector-3-down-30.capture.csv.gz\n\
        \n\
        In a job:\n\
        \x20 pintle bench --new --job visit\n\
        \x20 pintle bench --job visit")]
pub struct Arguments {
    /// The filled-in form; with `--job`, the latest one filed on its side.
    #[arg(
        required_unless_present_any = ["new", "job"],
        conflicts_with = "new",
        value_name = "FILE"
    )]
    form: Option<PathBuf>,
    /// Write a form to fill in, under this new name; with `--job` the name is given.
    #[arg(long, value_name = "FILE", num_args = 0..=1)]
    new: Option<Option<PathBuf>>,
    /// The vehicle file: number of cylinders, the car's own ranges.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Captures of the same car before any cleaning: do the measured flows explain the fuel trim?
    #[arg(long, value_name = "CAPTURE", num_args = 1.., conflicts_with = "new")]
    against: Vec<PathBuf>,
    #[command(flatten)]
    filing: Filing,
    #[command(flatten)]
    same_car: SameCar,
    /// Units for people: `metric` or `us`; JSON stays metric.
    #[arg(long, default_value = "metric")]
    units: Units,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let vehicle = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    let job = arguments.filing.open()?;
    let captures = match &job {
        Some(job) if arguments.against.is_empty() => job.folder.captures(Side::Before),
        _ => Ok(arguments.against.clone()),
    };
    let against = Pool::read(&captures.map_err(filing::failure)?)?;
    let described = described_by_first(
        arguments.vehicle.as_deref().zip(vehicle.as_ref()),
        job.as_ref().and_then(Job::described),
        against.vehicle(),
    );
    let said = arguments
        .same_car
        .check(&against.sightings(), described.as_ref())?;
    let recorded = against.vehicle().map(|(_, vehicle)| vehicle.clone());
    let vehicle = match (vehicle, &job) {
        (Some(vehicle), _) => vehicle,
        (None, Some(job)) => job.vehicle(recorded),
        (None, None) => recorded.unwrap_or_default(),
    };
    if let Some(name) = &arguments.new {
        return new_form(name.as_deref(), job.as_ref(), &vehicle);
    }
    let readings = readings(arguments.form.as_deref(), job.as_ref(), &vehicle)?;
    let mut found = findings(&readings, &vehicle);
    found.notes.splice(0..0, said);
    let checks = match against.summaries().as_slice() {
        [] => Vec::new(),
        summaries => flow_checks(summaries, &vehicle, &readings),
    };
    let document = report::document(&found, &checks);
    if let Some(job) = job.filter(|_| readings.say_anything()) {
        job.file_json(Kind::Bench, &document)?;
    }
    if arguments.json {
        return output::print_json(&document);
    }
    output::print(&report::render(
        &found,
        &checks,
        arguments.units,
        terminal::width(),
    ))
}

/// Reads the form named, and files a copy in the job unless it is one of its own; without a name, the job's latest.
fn readings(
    form: Option<&Path>,
    job: Option<&Job>,
    vehicle: &Vehicle,
) -> Result<Readings, Failure> {
    let Some(path) = form else {
        let latest = job.map(|job| filing::latest_readings(&job.folder, job.side, vehicle));
        let latest = latest.transpose()?.flatten();
        return latest.ok_or_else(|| {
            Failure::of(
                "this side of the job has no bench readings",
                "make a form with `pintle bench --new --job FOLDER` and fill it in",
            )
        });
    };
    let readings = files::read_bench(path, vehicle)?;
    if let Some(job) = job
        && !job.holds(path)
    {
        let text = files::read_text(path)?;
        job.file(Kind::Readings, job.side.word(), text.as_bytes())?;
    }
    Ok(readings)
}

fn new_form(name: Option<&Path>, job: Option<&Job>, vehicle: &Vehicle) -> Result<(), Failure> {
    match (name, job) {
        (Some(path), _) => write_form(path, vehicle),
        (None, Some(job)) => {
            let form = empty_form(vehicle);
            let path = job.file(Kind::Readings, job.side.word(), form.as_bytes())?;
            output::print(&format!("{}\n", path.display()))
        }
        (None, None) => Err(Failure::usage(
            "--new: give a name for the new form, or a job with --job",
        )),
    }
}

fn write_form(path: &Path, vehicle: &Vehicle) -> Result<(), Failure> {
    put_new(path, empty_form(vehicle).as_bytes()).map_err(|error| files::not_written(path, &error))
}
