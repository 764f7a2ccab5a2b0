//! Captures given on the command line, read into summaries.

use std::path::{Path, PathBuf};

use super::{failure::Failure, files, output};
use crate::{
    capture::{CaptureError, Fact, Observations, is_same_recording},
    identity::{CarIdentity, Sighting},
    series::{Builder, summary::Summary, timeline::course::Course},
    vehicle::Vehicle,
};

/// What a capture amounts to, and the vehicle that its header describes.
#[derive(Debug)]
pub struct Captured {
    /// The file.
    pub path: PathBuf,
    /// What it says.
    pub summary: Summary,
    /// The vehicle it was recorded on, as far as the header tells.
    pub vehicle: Option<Vehicle>,
    /// When it was started, as far as the header tells.
    pub started: Option<jiff::Timestamp>,
    /// How the trip went; empty unless it was asked for.
    pub course: Course,
}

impl Captured {
    /// The car, as this capture knows it.
    pub fn sighting(&self) -> Sighting {
        Sighting {
            source: self.path.display().to_string(),
            car: self.summary.facts.car.clone(),
        }
    }

    /// Whether both hold one and the same recording.
    pub fn is_copy_of(&self, other: &Self) -> bool {
        // files are read again only where all that was made of them is alike
        let is_alike = || self.summary == other.summary;
        self.path == other.path || is_alike() && is_same_recording(&self.path, &other.path)
    }
}

/// Several captures that are to be judged together, each recording once.
#[derive(Debug, Default)]
pub struct Pool {
    /// The captures.
    pub captures: Vec<Captured>,
    /// What was left out, in sentences.
    pub remarks: Vec<String>,
}

impl Pool {
    /// Reads captures through.
    pub fn read(paths: &[PathBuf]) -> Result<Self, Failure> {
        Self::read_by(paths, read)
    }

    /// Reads captures through, and keeps the course of each trip.
    pub fn read_with_courses(paths: &[PathBuf]) -> Result<Self, Failure> {
        Self::read_by(paths, |path| read_into(path, Builder::keeping_course()))
    }

    fn read_by(
        paths: &[PathBuf],
        read: impl Fn(&Path) -> Result<Captured, Failure>,
    ) -> Result<Self, Failure> {
        let mut pool = Self::default();
        for path in paths {
            pool.add(read(path)?);
        }
        Ok(pool)
    }

    /// Adds a capture; a recording that is there already counts once.
    fn add(&mut self, captured: Captured) {
        let known = &self.captures;
        let Some(first) = known.iter().find(|known| captured.is_copy_of(known)) else {
            self.captures.push(captured);
            return;
        };
        let name = first.path.display();
        let remark = if first.path == captured.path {
            format!("{name} was given twice: it counts once.")
        } else {
            format!(
                "{} is the same recording as {name}: it counts once.",
                captured.path.display()
            )
        };
        output::warn(&remark);
        self.remarks.push(remark);
    }

    /// The vehicle, by the first header that tells, and where that is.
    pub fn vehicle(&self) -> Option<(&Path, &Vehicle)> {
        let mut known = self.captures.iter().filter_map(|captured| {
            let vehicle = captured.vehicle.as_ref()?;
            Some((captured.path.as_path(), vehicle))
        });
        known.next()
    }

    /// The car, as each capture knows it.
    pub fn sightings(&self) -> Vec<Sighting> {
        self.captures.iter().map(Captured::sighting).collect()
    }

    /// What each capture says.
    pub fn summaries(&self) -> Vec<Summary> {
        let summaries = self.captures.iter().map(|captured| &captured.summary);
        summaries.cloned().collect()
    }

    /// The names of the captures, as they were given.
    pub fn names(&self) -> Vec<String> {
        let paths = self.captures.iter().map(|captured| captured.path.display());
        paths.map(|path| path.to_string()).collect()
    }
}

/// Reads a capture through.
pub fn read(path: &Path) -> Result<Captured, Failure> {
    read_into(path, Builder::new())
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
        path: path.to_owned(),
        summary,
        vehicle,
        started,
        course,
    })
}

/// The car that a capture is of, without judging the rest.
pub fn sighting(path: &Path) -> Result<Sighting, CaptureError> {
    let observations = Observations::open(path)?;
    let mut car: CarIdentity = observations.header().car();
    observations.for_each(|fact| match fact {
        Fact::Reading(reading) => car.take_reading(reading.item),
        Fact::Answer { answer, .. } => car.take_answer(answer),
        Fact::Mark { .. } | Fact::Link { .. } => {}
    })?;
    Ok(Sighting {
        source: path.display().to_string(),
        car,
    })
}
