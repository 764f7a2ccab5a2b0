//! `pintle bench`: what readings taken by hand say of each injector.

use std::{
    fs::OpenOptions,
    io::Write,
    path::{Path, PathBuf},
};

use clap::Args;

use super::{captured, failure::Failure, files, output, terminal};
use crate::{
    bench::{empty_form, findings},
    diagnose::flow_checks,
    quantity::Units,
    report::bench as report,
    vehicle::Vehicle,
};

/// Judge bench readings: coils, click and pulse, pressure drops, flow bench, leakage, power balance, rail pressure.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle bench --new readings.toml --vehicle van3.toml\n  \
    pintle bench readings.toml --vehicle van3.toml\n  \
    pintle bench readings.toml --against before.capture.csv"
)]
pub struct Arguments {
    /// The filled-in form.
    #[arg(
        required_unless_present = "new",
        conflicts_with = "new",
        value_name = "FILE"
    )]
    form: Option<PathBuf>,
    /// Write a form to fill in, under this new name.
    #[arg(long, value_name = "FILE")]
    new: Option<PathBuf>,
    /// The vehicle file: number of cylinders, good ranges.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Captures of the same car before any cleaning: do the measured flows explain their corrections?
    #[arg(long, value_name = "CAPTURE", num_args = 1.., conflicts_with = "new")]
    against: Vec<PathBuf>,
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
    let against = captured::read_all(&arguments.against)?;
    let vehicle = vehicle.or(against.vehicle).unwrap_or_default();
    if let Some(path) = &arguments.new {
        return write_form(path, &vehicle);
    }
    let path = arguments.form.as_deref().unwrap_or(Path::new(""));
    let readings = files::read_bench(path, &vehicle)?;
    let found = findings(&readings, &vehicle);
    let checks = match against.summaries.as_slice() {
        [] => Vec::new(),
        summaries => flow_checks(summaries, &vehicle, &readings),
    };
    if arguments.json {
        return output::print_json(&report::document(&found, &checks));
    }
    output::print(&report::render(
        &found,
        &checks,
        arguments.units,
        terminal::width(),
    ))
}

fn write_form(path: &Path, vehicle: &Vehicle) -> Result<(), Failure> {
    let write = || {
        let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
        file.write_all(empty_form(vehicle).as_bytes())
    };
    write().map_err(|error: std::io::Error| {
        Failure::new(
            path.display(),
            error,
            "choose a new name in a folder that is yours",
        )
    })
}
