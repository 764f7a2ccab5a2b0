//! `pintle compare`: what the work changed, against what the car does by itself.

use std::path::PathBuf;

use clap::Args;

use super::{captured, failure::Failure, filing::Job, output, terminal};
use crate::{
    compare::{Limits, compare},
    job::{COMPARISON, Kind, Side},
    report::comparison,
};

/// Tell whether captures from after the work differ from those before it: better, no change, worse, or cannot tell.
///
/// Several captures a side are several trips of the same car. Like is compared with like: only engine speeds and loads that
/// both sides visited, in the same kind of driving.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle compare --before monday.capture.csv --after friday.capture.csv\n  \
        pintle compare --before b1.capture.csv b2.capture.csv --after a1.capture.csv a2.capture.csv --json\n  \
        pintle compare --job job-2026-11-25-van-3"
)]
pub struct Arguments {
    /// Captures from before the work, plain or compressed; with `--job`, those filed there.
    #[arg(long, required_unless_present = "job", num_args = 1.., value_name = "CAPTURE")]
    before: Vec<PathBuf>,
    /// Captures from after it.
    #[arg(long, required_unless_present = "job", num_args = 1.., value_name = "CAPTURE")]
    after: Vec<PathBuf>,
    /// Compare the two sides of this job, and file what comes of it there.
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["before", "after"])]
    job: Option<PathBuf>,
    /// Smallest change of a trim that matters, points.
    #[arg(long, value_name = "POINTS", default_value_t = Limits::default().trim_points,
        value_parser = trim_points)]
    trim_change: f64,
    /// Smallest change of a misfire rate that matters: so many times fewer or more.
    #[arg(long, value_name = "TIMES", default_value_t = Limits::default().misfire_factor,
        value_parser = misfire_factor)]
    misfire_change: f64,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let job = arguments.job.as_deref();
    let job = job.map(|path| Job::open(path, None)).transpose()?;
    let [before, after] = match &job {
        Some(job) => [
            job.captures_of(Side::Before)?,
            job.captures_of(Side::After)?,
        ],
        None => [arguments.before.clone(), arguments.after.clone()],
    };
    let before = captured::read_all(&before)?.summaries;
    let after = captured::read_all(&after)?.summaries;
    let limits = Limits {
        trim_points: arguments.trim_change,
        misfire_factor: arguments.misfire_change,
    };
    let found = compare(&before, &after, &limits);
    let document = comparison::document(&found);
    if let Some(job) = &job {
        job.file_json_as(Kind::Comparison, COMPARISON, &document)?;
    }
    if arguments.json {
        return output::print_json(&document);
    }
    output::print_finding(&comparison::render(&found, terminal::width()))
}

fn trim_points(text: &str) -> Result<f64, String> {
    within(text, 0.5..=30.0, "points from 0.5 to 30")
}

fn misfire_factor(text: &str) -> Result<f64, String> {
    within(text, 1.2..=100.0, "a factor from 1.2 to 100")
}

fn within(text: &str, range: std::ops::RangeInclusive<f64>, expected: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| format!("expected {expected}"))
}
