//! `--job FOLDER`: what a command produces is filed in a job, on the side where it belongs.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::{Deserialize, Serialize};

use super::{captured, failure::Failure, files, one_car, output};
use crate::{
    bench::Readings,
    compare::FuelAnswer,
    identity::{Described, Sighting},
    job::{COMPARISON, Folder, JobError, Kind, Side, Visit},
    vehicle::Vehicle,
};

/// What a filed comparison says of the fuel.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Compared {
    /// What was said of it.
    pub fuel: FuelAnswer,
    /// What the verdict depends on.
    pub depends_on: Option<String>,
}

/// Which job, and which side of the work.
#[derive(Debug, Args)]
pub struct Filing {
    /// File the result in this job, and use the job's vehicle.
    #[arg(long, value_name = "FOLDER")]
    job: Option<PathBuf>,
    /// Side of the work: `before` or `after`; without it, `after` once work was done in the job.
    #[arg(long, value_name = "SIDE", requires = "job")]
    side: Option<Side>,
}

/// A job that a command files in.
#[derive(Debug)]
pub struct Job {
    /// Where it is.
    pub folder: Folder,
    /// What was said when the car came.
    pub visit: Visit,
    /// The side that the command is on.
    pub side: Side,
}

impl Filing {
    /// Opens the job, if one was named.
    pub fn open(&self) -> Result<Option<Job>, Failure> {
        let job = self.job.as_deref().map(|path| Job::open(path, self.side));
        job.transpose()
    }
}

impl Job {
    /// Opens a job on a side, or on the one where it stands.
    pub fn open(path: &Path, side: Option<Side>) -> Result<Self, Failure> {
        let (folder, visit) = Folder::open(path).map_err(failure)?;
        let side = match side {
            Some(side) => side,
            None => folder.side().map_err(failure)?,
        };
        Ok(Self {
            folder,
            visit,
            side,
        })
    }

    /// Files a document on this side and says where.
    pub fn file_json(&self, kind: Kind, document: &impl Serialize) -> Result<(), Failure> {
        self.file_json_as(kind, self.side.word(), document)
    }

    /// Files a document under names that begin with this word and says where.
    pub fn file_json_as(
        &self,
        kind: Kind,
        word: &str,
        document: &impl Serialize,
    ) -> Result<(), Failure> {
        let text = output::json(document)
            .map_err(|error| Failure::new(word, error, "report this as a bug"))?;
        let path = self.file(kind, word, text.as_bytes())?;
        output::remark(format_args!("{}: filed", path.display()));
        Ok(())
    }

    /// Files a text under a new name that begins with this word.
    pub fn file(&self, kind: Kind, word: &str, content: &[u8]) -> Result<PathBuf, Failure> {
        self.folder.file(kind, word, content).map_err(failure)
    }

    /// What is known of the fuel of both sides: what is said now, else what was said when the sides of the job were last
    /// compared.
    pub fn fuel_of(said: Option<FuelAnswer>, job: Option<&Self>) -> Result<FuelAnswer, Failure> {
        match (said, job) {
            (Some(fuel), _) => Ok(fuel),
            (None, Some(job)) => Ok(job.compared()?.unwrap_or_default().fuel),
            (None, None) => Ok(FuelAnswer::default()),
        }
    }

    /// What the latest comparison in the job said; nothing where there is none.
    pub fn compared(&self) -> Result<Option<Compared>, Failure> {
        let filed = self.folder.latest(Kind::Comparison, COMPARISON);
        let text = filed
            .map_err(failure)?
            .map(|filed| std::fs::read_to_string(filed.path));
        // one that cannot be read says nothing
        Ok(text.and_then(|text| serde_json::from_str(&text.ok()?).ok()))
    }

    /// Names for a new capture of this side, best first.
    pub fn new_captures(&self) -> Result<Vec<PathBuf>, Failure> {
        let names = self.folder.new_names(Kind::Capture, self.side.word());
        Ok(names.map_err(failure)?.collect())
    }

    /// A free name for a capture that begins with this word.
    pub fn new_capture(&self, word: &str) -> Result<PathBuf, Failure> {
        let mut names = self
            .folder
            .new_names(Kind::Capture, word)
            .map_err(failure)?;
        let free = names.find(|name| !name.exists());
        free.ok_or_else(|| Failure::new(word, "no free name", "wait a second and try again"))
    }

    /// The job's vehicle, filled up from what the captures tell.
    pub fn vehicle(&self, recorded: Option<Vehicle>) -> Vehicle {
        self.visit
            .vehicle
            .clone()
            .filled_up(recorded.unwrap_or_default())
    }

    /// The engine as `job.toml` describes it.
    pub fn described(&self) -> Option<Described> {
        one_car::described(self.folder.visit_file().display(), &self.visit.vehicle)
    }

    /// The car by all captures filed on both sides. One that cannot be read tells nothing; whoever needs it says so.
    pub fn sightings(&self) -> Result<Vec<Sighting>, Failure> {
        self.sightings_beside(&[])
    }

    /// The car by the captures filed on both sides that are not among these.
    pub fn sightings_beside(&self, others: &[PathBuf]) -> Result<Vec<Sighting>, Failure> {
        let mut all = Vec::new();
        for side in [Side::Before, Side::After] {
            let filed = self.folder.captures(side).map_err(failure)?;
            let filed = filed.iter().filter(|path| !others.contains(path));
            all.extend(filed.filter_map(|path| captured::sighting(path).ok()));
        }
        Ok(all)
    }

    /// Whether a file lies inside the job.
    pub fn holds(&self, path: &Path) -> bool {
        let place = |path: &Path| std::fs::canonicalize(path).ok();
        place(path)
            .zip(place(self.folder.path()))
            .is_some_and(|(file, folder)| file.starts_with(folder))
    }

    /// The captures of this side; says what to do when there are none.
    pub fn captures(&self) -> Result<Vec<PathBuf>, Failure> {
        self.captures_of(self.side)
    }

    /// The captures of a side; says what to do when there are none.
    pub fn captures_of(&self, side: Side) -> Result<Vec<PathBuf>, Failure> {
        let captures = self.folder.captures(side).map_err(failure)?;
        if captures.is_empty() {
            let folder = self.folder.path().display();
            return Err(Failure::new(
                &folder,
                format!("this job has no capture of the side `{side}`"),
                format!("record one with `pintle record --job {folder} --side {side}`"),
            ));
        }
        Ok(captures)
    }
}

/// The latest bench readings of a side.
pub fn latest_readings(
    folder: &Folder,
    side: Side,
    vehicle: &Vehicle,
) -> Result<Option<Readings>, Failure> {
    let latest = folder
        .latest(Kind::Readings, side.word())
        .map_err(failure)?;
    let readings = latest.map(|filed| files::read_bench(&filed.path, vehicle));
    readings.transpose()
}

/// The job's error as a line for the person.
pub fn failure(error: JobError) -> Failure {
    let next = error.next_step();
    Failure::of(error, next)
}
