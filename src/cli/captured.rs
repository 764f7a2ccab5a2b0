//! Captures given on the command line, read into summaries.

use std::path::{Path, PathBuf};

use super::{failure::Failure, files};
use crate::{
    capture::{CaptureError, Observations},
    series::{Builder, course::Course, summary::Summary},
    vehicle::Vehicle,
};

/// What a capture amounts to, and the vehicle that its header describes.
#[derive(Debug)]
pub struct Captured {
    /// What it says.
    pub summary: Summary,
    /// The vehicle it was recorded on, as far as the header tells.
    pub vehicle: Option<Vehicle>,
    /// When it was started, as far as the header tells.
    pub started: Option<jiff::Timestamp>,
    /// How the trip went; empty unless it was asked for.
    pub course: Course,
}

/// Several captures of one car.
#[derive(Debug, Default)]
pub struct OfOneCar {
    /// What each says.
    pub summaries: Vec<Summary>,
    /// The vehicle, by the first header that tells.
    pub vehicle: Option<Vehicle>,
}

/// Reads captures of one car through.
pub fn read_all(paths: &[PathBuf]) -> Result<OfOneCar, Failure> {
    let mut all = OfOneCar::default();
    for path in paths {
        let captured = read(path)?;
        all.vehicle = all.vehicle.or(captured.vehicle);
        all.summaries.push(captured.summary);
    }
    Ok(all)
}

/// Reads a capture through.
pub fn read(path: &Path) -> Result<Captured, Failure> {
    read_into(path, Builder::new())
}

/// Reads a capture through, and keeps the trip's course.
pub fn read_with_course(path: &Path) -> Result<Captured, Failure> {
    read_into(path, Builder::keeping_course())
}

fn read_into(path: &Path, builder: Builder) -> Result<Captured, Failure> {
    summarised(path, builder)
        .map_err(|error| Failure::new(path.display(), &error, error.next_step()))
}

fn summarised(path: &Path, mut builder: Builder) -> Result<Captured, CaptureError> {
    let observations = Observations::open(path)?;
    let header = observations.header();
    builder.push_header(header);
    let (vehicle, started) = (header.vehicle.clone(), header.started);
    let damage = observations.for_each(|fact| builder.take(&fact))?;
    files::remark_damage(path, &damage);
    let (summary, course) = builder.finish_with_course();
    Ok(Captured {
        summary,
        vehicle,
        started,
        course,
    })
}
