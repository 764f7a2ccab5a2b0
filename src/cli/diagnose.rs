//! `pintle diagnose`: what the captures of one car say, what it may be, what to do next.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{captured, failure::Failure, files, output, terminal};
use crate::{
    diagnose::{Priors, Tables, diagnose_with_bench},
    report::{json, text},
};

/// Tell what captures of one car say: causes with their odds, the next check, the treatment.
///
/// Several captures of the same car are judged together, each as one trip.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  pintle diagnose van3.capture.csv\n  \
        pintle diagnose monday.capture.csv tuesday.capture.csv --vehicle van3.toml --json\n  \
        pintle diagnose van3.capture.csv --bench readings.toml")]
pub struct Arguments {
    /// The captures, plain or compressed.
    #[arg(required = true, value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
    /// The vehicle file; without it, what the first capture's header tells.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Bench readings taken on this car, as `pintle bench --new` makes a form for.
    #[arg(long, value_name = "FILE")]
    bench: Option<PathBuf>,
    /// How common each cause is, in place of the table that comes with the program (TOML).
    #[arg(long, value_name = "FILE")]
    priors: Option<PathBuf>,
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
    let read = captured::read_all(&arguments.captures)?;
    let vehicle = given.or(read.vehicle).unwrap_or_default();
    let bench = arguments.bench.as_deref();
    let bench = bench
        .map(|path| files::read_bench(path, &vehicle))
        .transpose()?;
    let diagnosis = diagnose_with_bench(&read.summaries, &vehicle, &tables, bench.as_ref());
    if arguments.json {
        let paths = arguments.captures.iter();
        let names: Vec<String> = paths.map(|path| path.display().to_string()).collect();
        return output::print_json(&json::document(&diagnosis, &names, &vehicle));
    }
    output::print(&text::render(
        &diagnosis,
        text::Layout {
            width: terminal::width(),
            bold: terminal::letters(),
        },
    ))
}

/// The tables that come with the program.
pub(super) fn standard_tables() -> Result<Tables, Failure> {
    Tables::standard().map_err(|error| {
        Failure::new(
            "built-in tables",
            error,
            "this program was built wrongly: build it anew",
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
