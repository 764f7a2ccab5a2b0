//! `pintle bench`: what readings taken by hand say of each injector.

use std::{
    fs::OpenOptions,
    io::Write,
    path::{Path, PathBuf},
};

use clap::Args;
use pintle_protocol::Unit;
use serde::Serialize;

use super::{failure::Failure, files, output, terminal};
use crate::{
    bench::{Electrical, Findings, Flow, Form, Injector, Rail, empty_form, findings},
    quantity::Units,
    vehicle::Vehicle,
};

/// Judge bench readings: coil resistance, pressure drops, flow, rail pressure.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle bench --new readings.toml --vehicle van3.toml\n  \
    pintle bench readings.toml --vehicle van3.toml"
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
    /// Units for people: `metric` or `us`; JSON stays metric.
    #[arg(long, default_value = "metric")]
    units: Units,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// The published form.
#[derive(Debug, Serialize)]
struct Document<'a> {
    schema: &'static str,
    injectors: &'a [Injector],
    pressure: &'a Option<Rail>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let vehicle = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    let vehicle = vehicle.unwrap_or_default();
    if let Some(path) = &arguments.new {
        return write_form(path, &vehicle);
    }
    let path = arguments.form.as_deref().unwrap_or(Path::new(""));
    let form = Form::from_toml(&files::read_text(path)?, &vehicle)
        .map_err(|error| Failure::new(path.display(), error, "correct that entry"))?;
    let found = findings(&form, &vehicle);
    if arguments.json {
        return output::print_json(&Document {
            schema: "pintle.bench/1",
            injectors: &found.injectors,
            pressure: &found.rail,
        });
    }
    output::print(&text(&found, arguments.units))
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

fn text(found: &Findings, units: Units) -> String {
    let mut table = terminal::table(&["cylinder", "at 20 °C", "coil", "flow", "interval", "says"]);
    for injector in &found.injectors {
        table.add_row([
            injector.cylinder.to_string(),
            shown(injector.ohms_at_20c, |ohms| format!("{ohms:.1} Ω")),
            coil_words(injector).to_owned(),
            shown(injector.relative_flow, |flow| format!("{flow:.2}")),
            shown(injector.low.zip(injector.high), |(low, high)| {
                format!("{low:.2} to {high:.2}")
            }),
            flow_words(injector.flow).to_owned(),
        ]);
    }
    format!(
        "{}{}",
        terminal::text_of(&table),
        found
            .rail
            .as_ref()
            .map_or_else(String::new, |rail| rail_words(rail, units))
    )
}

fn shown<T>(value: Option<T>, words: impl Fn(T) -> String) -> String {
    value.map_or_else(String::new, words)
}

const fn coil_words(injector: &Injector) -> &'static str {
    match injector.electrical {
        Electrical::Ok => "good",
        Electrical::Open => "open: dead, cleaning is no use",
        Electrical::Short => "shorted: dead, cleaning is no use",
        Electrical::OutOfRange => "out of range",
        Electrical::Unknown => "",
    }
}

const fn flow_words(flow: Flow) -> &'static str {
    match flow {
        Flow::Ok => "like the others",
        Flow::Restricted => "restricted",
        Flow::Excess => "too much",
        Flow::Unknown => "cannot be told",
    }
}

fn rail_words(rail: &Rail, units: Units) -> String {
    let range = match rail.in_range {
        Some(true) => ", within its range",
        Some(false) => ", outside its range",
        None => "",
    };
    let measure = |kpa| units.measure(kpa, Some(Unit::Kilopascal));
    let mut words = shown(rail.pressure_kpa, |kpa| {
        format!("\nrail pressure {}{range}\n", measure(kpa))
    });
    words += &shown(rail.fall_in_ten_minutes_kpa, |kpa| {
        format!("falls by {} in ten minutes\n", measure(kpa))
    });
    words
}
