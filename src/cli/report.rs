//! `pintle report`: the page for the customer.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{
    captured,
    diagnose::standard_tables,
    failure::Failure,
    files,
    filing::{self, Job},
    output,
};
use crate::{
    bench::Readings,
    compare::{Limits, compare},
    diagnose::{Tables, diagnose_with_bench},
    durable::put_new,
    job::{Folder, Kind, Side, Stage, Visit},
    quantity::Units,
    report::page::{
        self,
        content::{Content, Measured, Trip},
    },
    series::summary::Summary,
    vehicle::Vehicle,
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
    put_new(path, html.as_bytes()).map_err(|error| files::not_written(path, &error))?;
    Ok(path.to_owned())
}

/// What was recorded on one side.
#[derive(Default)]
struct Recorded {
    trips: Vec<Trip>,
    summaries: Vec<Summary>,
    /// The vehicle, by the first header that tells.
    vehicle: Option<Vehicle>,
}

fn content(job: &Job, units: Units) -> Result<Content, Failure> {
    let tables = standard_tables()?;
    let folder = &job.folder;
    let [before, after] = [
        recorded(folder, Side::Before)?,
        recorded(folder, Side::After)?,
    ];
    let vehicle = job.vehicle(before.vehicle.clone().or(after.vehicle.clone()));
    let compared = [&before, &after].map(|side| side.summaries.as_slice());
    let comparison = match compared {
        [[], _] | [_, []] => None,
        [before, after] => Some(compare(before, after, &Limits::default())),
    };
    let side = |recorded, side| measured(folder, side, recorded, &vehicle, &tables);
    Ok(Content {
        written: day(jiff::Timestamp::now()),
        sides: [side(before, Side::Before)?, side(after, Side::After)?],
        comparison,
        chosen: folder.works(Stage::Chosen).map_err(filing::failure)?,
        done: folder.works(Stage::Done).map_err(filing::failure)?,
        units,
        visit: Visit {
            vehicle,
            ..job.visit.clone()
        },
    })
}

fn recorded(folder: &Folder, side: Side) -> Result<Recorded, Failure> {
    let mut recorded = Recorded::default();
    for path in folder.captures(side).map_err(filing::failure)? {
        let captured = captured::read_with_course(&path)?;
        let name = path.file_name().unwrap_or_default();
        recorded.vehicle = recorded.vehicle.or(captured.vehicle);
        recorded.trips.push(Trip {
            name: name.to_string_lossy().into_owned(),
            day: captured.started.map(day),
            seconds: captured.summary.seconds,
            course: captured.course,
        });
        recorded.summaries.push(captured.summary);
    }
    Ok(recorded)
}

/// A side as the page shows it; `None` without a capture.
fn measured(
    folder: &Folder,
    side: Side,
    recorded: Recorded,
    vehicle: &Vehicle,
    tables: &Tables,
) -> Result<Option<Measured>, Failure> {
    if recorded.trips.is_empty() {
        return Ok(None);
    }
    let readings = filing::latest_readings(folder, side, vehicle)?;
    let readings = readings.filter(Readings::say_anything);
    let diagnosis = diagnose_with_bench(&recorded.summaries, vehicle, tables, readings.as_ref());
    Ok(Some(Measured {
        trips: recorded.trips,
        diagnosis,
    }))
}

/// The local day of a moment, in words.
fn day(at: jiff::Timestamp) -> String {
    at.to_zoned(jiff::tz::TimeZone::system())
        .strftime("%-d %B %Y")
        .to_string()
}
