//! `pintle inspect`: what is in a capture.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{failure::Failure, output};
use crate::{
    capture::{CaptureError, Contents, Observations},
    identity::CarIdentity,
    quantity::Units,
    series::{
        Builder,
        summary::{Dropped, Seconds},
    },
};

mod document;
mod text;

/// Show what is in a capture.
///
/// Lists quantities and their rates, usable time, gaps, marks and damage.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n\
        \x20 pintle inspect captures/van3-intake-leak.capture.csv.gz")]
pub struct Arguments {
    /// The capture, plain or compressed.
    capture: PathBuf,
    /// Units for people: `metric` or `us`; JSON stays metric.
    #[arg(long, default_value = "metric")]
    units: Units,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// What is in a capture, and how much of it counts.
struct Inspection {
    contents: Contents,
    car: CarIdentity,
    seconds: Seconds,
    dropped: Vec<Dropped>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let path = &arguments.capture;
    let inspection =
        read(path).map_err(|error| Failure::new(path.display(), &error, error.next_step()))?;
    if arguments.json {
        output::print_json(&document::of(&inspection, path))
    } else {
        output::print(&text::of(&inspection, path, arguments.units))
    }
}

fn read(path: &Path) -> Result<Inspection, CaptureError> {
    let contents = Contents::read(path)?;
    let mut builder = Builder::new();
    builder.push_header(&contents.header);
    Observations::open(path)?.for_each(|fact| builder.take(&fact))?;
    let summary = builder.finish();
    Ok(Inspection {
        contents,
        car: summary.facts.car,
        seconds: summary.seconds,
        dropped: summary.dropped,
    })
}
