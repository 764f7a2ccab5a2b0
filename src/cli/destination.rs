//! Where a new recording goes, and which vehicle it is of: a file of a name, or a job.

use std::path::{Path, PathBuf};

use super::{
    connect,
    failure::Failure,
    files,
    filing::{self, Filing, Job},
    one_car::{SameCar, described},
};
use crate::{
    capture::CaptureError,
    durable::folder_of,
    identity::{CarIdentity, OtherCar, Sighting},
    job::Folder,
    link::{Device, Expected, MeetError},
    vehicle::Vehicle,
};

/// Where a new recording goes.
#[derive(Debug)]
pub struct Destination {
    /// Names for the capture, best first; none where nothing was said.
    pub names: Vec<PathBuf>,
    /// The vehicle, from its file or else from the job.
    pub vehicle: Option<Vehicle>,
    /// Which car it should be, by the job and the vehicle file.
    pub expected: Expected,
    /// The job, where the recording goes into one.
    job: Option<Folder>,
}

impl Destination {
    /// The file named, or new names in the job; the vehicle's own file goes before what the job says of it.
    pub fn new(
        file: Option<&Path>,
        filing: &Filing,
        vehicle: Option<&Path>,
        same_car: SameCar,
    ) -> Result<Self, Failure> {
        let given = vehicle.map(files::read_vehicle).transpose()?;
        let job = filing.open()?;
        let described = match vehicle.zip(given.as_ref()) {
            Some((path, vehicle)) => described(path.display(), vehicle),
            None => job.as_ref().and_then(Job::described),
        };
        let seen = job.as_ref().map(Job::sightings).transpose()?;
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
            vehicle: given.or_else(|| job.as_ref().map(|job| job.visit.vehicle.clone())),
            expected: Expected {
                seen: seen.unwrap_or_default(),
                described,
                same_car: same_car.same_car,
            },
            job: job.map(|job| job.folder),
        })
    }

    /// A new name with today's date where none was said.
    pub fn or_dated(mut self) -> Self {
        if self.names.is_empty() {
            self.names.push(files::dated_name("recording"));
        }
        self
    }

    /// Looks at a finished recording once more: a car that told its number late may be another one than the job's. Its
    /// recording is kept, but taken off the job's side.
    pub fn settle(&self, capture: &Path, car: &CarIdentity) -> Result<(), Failure> {
        let here = Sighting {
            source: capture.display().to_string(),
            car: car.clone(),
        };
        let (Some(job), Err(other)) = (&self.job, self.expected.check(here)) else {
            return Ok(());
        };
        let kept = job.set_aside(capture).map_err(filing::failure)?;
        Err(Failure::of(
            other,
            format_args!(
                "plug the adapter into the job's car; this recording is kept as {}, outside both sides of the job",
                kept.display()
            ),
        ))
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

/// A car that is not the one expected, or that was lost on meeting it, as a line for the person there.
pub fn not_met(device: &Device, error: &MeetError) -> Failure {
    match error {
        MeetError::Link(error) => connect::failure(device, error),
        MeetError::OtherCar(error) => other_car(error),
    }
}

/// A car at the port that is not the one expected, as a line for the person there.
pub fn other_car(error: &OtherCar) -> Failure {
    let next = match error {
        OtherCar::Numbers { .. } => {
            "plug the adapter into the car that was recorded before, or keep this one apart without --job and --before; add \
             --same-car if only its controller was exchanged"
        }
        OtherCar::Description(_) => error.next_step(),
    };
    Failure::of(error, next)
}
