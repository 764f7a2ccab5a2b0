//! Where a new recording goes, and which vehicle it is of: a file of a name, or a job.

use std::path::{Path, PathBuf};

use super::{failure::Failure, files, filing::Filing};
use crate::{capture::CaptureError, durable::folder_of, vehicle::Vehicle};

/// Where a new recording goes.
#[derive(Debug)]
pub struct Destination {
    /// Names for the capture, best first; none where nothing was said.
    pub names: Vec<PathBuf>,
    /// The vehicle, from its file or else from the job.
    pub vehicle: Option<Vehicle>,
}

impl Destination {
    /// The file named, or new names in the job; the vehicle's own file goes before what the job says of it.
    pub fn new(
        file: Option<&Path>,
        filing: &Filing,
        vehicle: Option<&Path>,
    ) -> Result<Self, Failure> {
        let vehicle = vehicle.map(files::read_vehicle).transpose()?;
        let job = filing.open()?;
        let names = match (file, &job) {
            (Some(path), _) if path.exists() => return Err(failure(path, &CaptureError::Exists)),
            (Some(path), _) if !folder_of(path).is_dir() => {
                return Err(failure(path, &CaptureError::NoFolder));
            }
            (Some(path), _) => vec![path.to_owned()],
            (None, Some(job)) => job.new_captures()?,
            (None, None) => Vec::new(),
        };
        Ok(Self {
            names,
            vehicle: vehicle.or(job.map(|job| job.visit.vehicle)),
        })
    }

    /// A new name with today's date where none was said.
    pub fn or_dated(mut self) -> Self {
        if self.names.is_empty() {
            self.names.push(files::dated_name("recording"));
        }
        self
    }

    /// What stops a capture from being created, as a line for the person.
    pub fn failure(&self, error: &CaptureError) -> Failure {
        match self.names.first() {
            Some(path) => failure(path, error),
            None => Failure::new("capture", error, error.next_step()),
        }
    }
}

/// What is wrong with a capture being written, as a line for the person.
pub fn failure(path: &Path, error: &CaptureError) -> Failure {
    Failure::new(path.display(), error, error.next_step())
}
