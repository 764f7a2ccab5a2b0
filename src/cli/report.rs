//! `pintle report`: the page for the customer.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{
    captured::{Captured, Pool},
    compare,
    diagnose::standard_tables,
    failure::Failure,
    files,
    filing::{self, Job},
    one_car::{SameCar, described_by_first},
    output,
};
use crate::{
    bench::Readings,
    compare::{FuelAnswer, Limits},
    diagnose::{Tables, diagnose_with_bench},
    durable::put_new,
    job::{Folder, Kind, Side, Stage, Visit},
    quantity::Units,
    report::page::{
        self,
        content::{Content, Measured, Trip},
    },
    vehicle::Vehicle,
};

/// Write the page for the customer.
///
/// It says what was found, what was done, whether it worked, and shows the proof. The page is one HTML file: it needs
/// no network, prints on A4 and Letter, and reads on a phone. A job with captures of two cars is refused.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle demo --short --fast --no-screen --out van3-visit\n\
        \x20 pintle report van3-visit")]
pub struct Arguments {
    /// The job's folder.
    #[arg(value_name = "JOB")]
    job: PathBuf,
    /// Name of the new page; without it, a name with today's date in the job's `report` folder.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Units for people: `metric` or `us`.
    #[arg(long, default_value = "metric")]
    units: Units,
    /// Were both sides driven on the same fuel, if you know: `same` or `changed`; without it, the answer given to
    /// `compare` counts.
    #[arg(long, value_name = "ANSWER")]
    fuel: Option<FuelAnswer>,
    #[command(flatten)]
    same_car: SameCar,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let out = arguments.out.as_deref();
    let Arguments {
        units,
        fuel,
        same_car,
        ..
    } = *arguments;
    let path = write(&arguments.job, out, units, fuel, same_car)?;
    output::print(&format!("{}\n", path.display()))
}

/// Writes the page of a job and gives its name.
pub(super) fn write(
    job: &Path,
    out: Option<&Path>,
    units: Units,
    fuel: Option<FuelAnswer>,
    same_car: SameCar,
) -> Result<PathBuf, Failure> {
    let job = Job::open(job, Some(Side::Before))?;
    let fuel = Job::fuel_of(fuel, Some(&job))?;
    let content = content(&job, units, fuel, same_car)?;
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

fn content(
    job: &Job,
    units: Units,
    fuel: FuelAnswer,
    same_car: SameCar,
) -> Result<Content, Failure> {
    let tables = standard_tables()?;
    let folder = &job.folder;
    let [before, after] = [
        recorded(folder, Side::Before)?,
        recorded(folder, Side::After)?,
    ];
    let seen = [before.sightings(), after.sightings()].concat();
    let header = before.vehicle().or(after.vehicle());
    let described = described_by_first(None, job.described(), header);
    let said = same_car.check(&seen, described.as_ref())?;
    let vehicle = job.vehicle(header.map(|(_, vehicle)| vehicle.clone()));
    let comparison = match [&before, &after].map(|side| side.captures.is_empty()) {
        [false, false] => Some(compare::of_one_car(
            [&before, &after],
            &said,
            same_car,
            &Limits::default(),
            fuel,
        )),
        _ => None,
    };
    let remarks = [&before, &after].into_iter().flat_map(|side| &side.remarks);
    let doubts = said.iter().chain(remarks).cloned().collect();
    let side = |recorded, side| measured(folder, side, recorded, &vehicle, &tables);
    Ok(Content {
        written: day(jiff::Timestamp::now()),
        sides: [side(before, Side::Before)?, side(after, Side::After)?],
        comparison,
        chosen: folder.works(Stage::Chosen).map_err(filing::failure)?,
        done: folder.works(Stage::Done).map_err(filing::failure)?,
        units,
        doubts,
        visit: Visit {
            vehicle,
            ..job.visit.clone()
        },
    })
}

fn recorded(folder: &Folder, side: Side) -> Result<Pool, Failure> {
    Pool::read_with_courses(&folder.captures(side).map_err(filing::failure)?)
}

/// A side as the page shows it; `None` without a capture.
fn measured(
    folder: &Folder,
    side: Side,
    recorded: Pool,
    vehicle: &Vehicle,
    tables: &Tables,
) -> Result<Option<Measured>, Failure> {
    if recorded.captures.is_empty() {
        return Ok(None);
    }
    let readings = filing::latest_readings(folder, side, vehicle)?;
    let readings = readings.filter(Readings::say_anything);
    let summaries = recorded.summaries();
    Ok(Some(Measured {
        trips: recorded.captures.into_iter().map(trip).collect(),
        diagnosis: diagnose_with_bench(&summaries, vehicle, tables, readings.as_ref()),
    }))
}

fn trip(captured: Captured) -> Trip {
    let name = captured.path.file_name().unwrap_or_default();
    Trip {
        name: name.to_string_lossy().into_owned(),
        day: captured.started.map(day),
        seconds: captured.summary.seconds,
        course: captured.course,
    }
}

/// The local day of a moment, in words.
fn day(at: jiff::Timestamp) -> String {
    at.to_zoned(jiff::tz::TimeZone::system())
        .strftime("%-d %B %Y")
        .to_string()
}
