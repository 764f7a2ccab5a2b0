//! `pintle report`: the page for the customer.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{
    captured,
    diagnose::standard_tables,
    failure::Failure,
    filing::{self, Job},
    output,
};
use crate::{
    diagnose::{Tables, diagnose_with_bench},
    job::{Kind, Side, Stage, put_new},
    quantity::Units,
    report::page::{
        self,
        content::{Content, Measured, Trip},
    },
};

/// Write one page for the customer: what was found, what was done, what it changed, and the proof.
///
/// The page holds everything in one HTML file: it needs no network, prints on A4 and Letter and can be read on a phone.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  pintle report job-2026-11-25-van-3")]
pub struct Arguments {
    /// The job's folder.
    #[arg(value_name = "JOB")]
    job: PathBuf,
    /// Name of the new page; without it, a dated one in the job's `report` folder.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Units for people: `metric` or `us`.
    #[arg(long, default_value = "metric")]
    units: Units,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let path = write(&arguments.job, arguments.out.as_deref(), arguments.units)?;
    output::print(&format!("{}\n", path.display()))
}

/// Writes the page of a job and gives its name.
pub(super) fn write(job: &Path, out: Option<&Path>, units: Units) -> Result<PathBuf, Failure> {
    let job = Job::open(job, Some(Side::Before))?;
    let content = content(&job, units)?;
    if content.sides.iter().all(Option::is_none) {
        // says what to do
        job.captures()?;
    }
    let html = page::render(&content);
    let Some(path) = out else {
        return job.file(Kind::Report, "report", html.as_bytes());
    };
    put_new(path, html.as_bytes()).map_err(|error| {
        Failure::new(
            path.display(),
            error,
            "choose a new name in a folder that is yours",
        )
    })?;
    Ok(path.to_owned())
}

fn content(job: &Job, units: Units) -> Result<Content, Failure> {
    let tables = standard_tables()?;
    let folder = &job.folder;
    let mut visit = job.visit.clone();
    let mut sides = [None, None];
    for (side, measured) in [Side::Before, Side::After].into_iter().zip(&mut sides) {
        let job = Job {
            folder: folder.clone(),
            visit: visit.clone(),
            side,
        };
        *measured = self::measured(&job, &tables)?.map(|(vehicle, measured)| {
            visit.vehicle = vehicle;
            measured
        });
    }
    Ok(Content {
        written: day(jiff::Timestamp::now()),
        visit,
        sides,
        chosen: folder.works(Stage::Chosen).map_err(filing::failure)?,
        done: folder.works(Stage::Done).map_err(filing::failure)?,
        units,
    })
}

/// What was recorded and measured on the job's side, and the vehicle as far as that tells; `None` without a capture.
fn measured(
    job: &Job,
    tables: &Tables,
) -> Result<Option<(crate::vehicle::Vehicle, Measured)>, Failure> {
    let paths = job.folder.captures(job.side).map_err(filing::failure)?;
    if paths.is_empty() {
        return Ok(None);
    }
    let mut summaries = Vec::new();
    let mut trips = Vec::new();
    let mut recorded = None;
    for path in &paths {
        let captured = captured::read_with_course(path)?;
        recorded = recorded.or(captured.vehicle);
        trips.push(Trip {
            name: path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned(),
            day: captured.started.map(day),
            seconds: captured.summary.seconds,
            course: captured.course,
        });
        summaries.push(captured.summary);
    }
    let vehicle = job.vehicle(recorded);
    let readings = job.readings(&vehicle)?.map(|(_, readings)| readings);
    let readings = readings.filter(|readings| readings.say_anything());
    let diagnosis = diagnose_with_bench(&summaries, &vehicle, tables, readings.as_ref());
    Ok(Some((vehicle, Measured { trips, diagnosis })))
}

/// The local day of a moment, in words.
fn day(at: jiff::Timestamp) -> String {
    at.to_zoned(jiff::tz::TimeZone::system())
        .strftime("%-d %B %Y")
        .to_string()
}
