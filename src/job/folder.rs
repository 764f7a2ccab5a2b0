//! The folder of a job: where its files are, and how new ones get their names.

use std::{
    collections::BTreeSet,
    fs, io,
    path::{Path, PathBuf},
};

use jiff::Timestamp;

use super::{
    error::JobError,
    filed::Filed,
    side::Side,
    visit::Visit,
    work::{Stage, Work},
};
use crate::{
    capture::Reader,
    durable::{put_new, unfinished_in},
    entries, stamp,
};

/// The file that makes a folder a job.
const JOB: &str = "job.toml";
/// How the names of comparisons begin, which belong to both sides.
pub const COMPARISON: &str = "comparison";
/// Names tried for a new file before giving up: one for each terminal that files within the same second.
const MOST_NAMES: u32 = 1000;

/// What is filed in a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A recording.
    Capture,
    /// A form of bench readings.
    Readings,
    /// What the captures say (`pintle.diagnosis/1`).
    Diagnosis,
    /// What the bench readings say (`pintle.bench/1`).
    Bench,
    /// Trouble codes (`pintle.codes/1`).
    Codes,
    /// Comparison of both sides (`pintle.comparison/1`).
    Comparison,
    /// The page for the customer.
    Report,
    /// Work chosen or done.
    Work,
}

impl Kind {
    /// Every kind once.
    const ALL: [Self; 8] = [
        Self::Capture,
        Self::Readings,
        Self::Diagnosis,
        Self::Bench,
        Self::Codes,
        Self::Comparison,
        Self::Report,
        Self::Work,
    ];

    /// The folder inside the job.
    const fn folder(self) -> &'static str {
        match self {
            Self::Capture => "captures",
            Self::Readings => "bench",
            Self::Diagnosis | Self::Bench | Self::Codes | Self::Comparison => "findings",
            Self::Report => "report",
            Self::Work => "work",
        }
    }

    /// How its names end, the usual ending first.
    const fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Capture => &[".capture.csv", ".capture.csv.gz"],
            Self::Readings => &[".readings.toml"],
            Self::Diagnosis => &[".diagnosis.json"],
            Self::Bench => &[".bench.json"],
            Self::Codes => &[".codes.json"],
            Self::Comparison => &[".comparison.json"],
            Self::Report => &[".html"],
            Self::Work => &[".toml"],
        }
    }

    /// When a file of this kind was made, as its content says.
    fn moment_inside(self, path: &Path) -> Option<Timestamp> {
        match self {
            Self::Capture => Reader::open(path).ok()?.header().started,
            Self::Work => {
                let work: Work = entries::read(&entries::read_file(path).ok()?).ok()?;
                Some(work.at)
            }
            _ => None,
        }
    }
}

/// A job on disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folder {
    path: PathBuf,
}

impl Folder {
    /// Makes a new job, with the folder for captures, so that one from elsewhere can be put in. The job's folder may exist
    /// as long as it is no job yet.
    ///
    /// # Errors
    /// [`JobError::Exists`] when there is a job already, and whatever the operating system refuses.
    pub fn create(path: &Path, visit: &Visit) -> Result<Self, JobError> {
        fs::create_dir_all(path).map_err(|error| refused(path, error))?;
        let file = path.join(JOB);
        let text = visit.to_toml().map_err(|problem| JobError::Format {
            path: file.clone(),
            problem,
        })?;
        put_new(&file, text.as_bytes()).map_err(|error| refused(&file, error))?;
        let captures = path.join(Kind::Capture.folder());
        fs::create_dir_all(&captures).map_err(|error| refused(&captures, error))?;
        Ok(Self {
            path: path.to_owned(),
        })
    }

    /// Opens a job and reads what was said when the car came.
    ///
    /// # Errors
    /// When it is no job, or `job.toml` is wrong.
    pub fn open(path: &Path) -> Result<(Self, Visit), JobError> {
        let file = path.join(JOB);
        let text = match entries::read_file(&file) {
            Ok(text) if !text.is_empty() => text,
            Ok(_) => return Err(JobError::NoJob(path.to_owned())),
            Err(_) if !path.is_dir() => return Err(JobError::NoFolder(path.to_owned())),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Err(JobError::NoJob(path.to_owned()));
            }
            Err(error) => return Err(refused(&file, error)),
        };
        let visit = Visit::from_toml(&text).map_err(|problem| JobError::Format {
            path: file,
            problem,
        })?;
        Ok((
            Self {
                path: path.to_owned(),
            },
            visit,
        ))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was said when the car came.
    pub fn visit_file(&self) -> PathBuf {
        self.path.join(JOB)
    }

    /// The files of one kind whose names begin with this word, oldest first. Empty ones hold nothing yet and are left out.
    ///
    /// # Errors
    /// When the folder cannot be read; one that is not there holds nothing.
    pub fn files(&self, kind: Kind, word: &str) -> Result<Vec<Filed>, JobError> {
        let folder = self.path.join(kind.folder());
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(refused(&folder, error)),
        };
        let mut files = Vec::new();
        for entry in entries {
            let entry = entry.map_err(|error| refused(&folder, error))?;
            let holds = entry.metadata().is_ok_and(|data| data.len() > 0);
            let inside = |path: &Path| kind.moment_inside(path);
            let filed = holds.then(|| Filed::of(entry.path(), word, kind.endings(), inside));
            files.extend(filed.flatten());
        }
        files.sort_by(Filed::order);
        Ok(files)
    }

    /// The captures of one side, oldest first.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn captures(&self, side: Side) -> Result<Vec<PathBuf>, JobError> {
        let files = self.files(Kind::Capture, side.word())?;
        Ok(files.into_iter().map(|filed| filed.path).collect())
    }

    /// The latest file of one kind whose name begins with this word.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn latest(&self, kind: Kind, word: &str) -> Result<Option<Filed>, JobError> {
        Ok(self.files(kind, word)?.pop())
    }

    /// Files something under a new name that begins with this word, and gives the name.
    ///
    /// # Errors
    /// Whatever the operating system refuses.
    pub fn file(&self, kind: Kind, word: &str, content: &[u8]) -> Result<PathBuf, JobError> {
        let mut last = Err(JobError::Exists(self.path.clone()));
        for path in self.new_names(kind, word)? {
            last = match put_new(&path, content) {
                Ok(()) => return Ok(path),
                Err(error) => Err(refused(&path, error)),
            };
            if !matches!(last, Err(JobError::Exists(_))) {
                break;
            }
        }
        last
    }

    /// Names for a new file, best first: the next one is for whoever finds that another terminal was faster.
    ///
    /// # Errors
    /// When the folder inside the job cannot be made.
    pub fn new_names(
        &self,
        kind: Kind,
        word: &str,
    ) -> Result<impl Iterator<Item = PathBuf> + use<>, JobError> {
        let folder = self.path.join(kind.folder());
        fs::create_dir_all(&folder).map_err(|error| refused(&folder, error))?;
        let ending = kind.endings().first().copied().unwrap_or_default();
        let stem = format!("{word}-{}", stamp::now());
        Ok((1..=MOST_NAMES).map(move |number| match number {
            1 => folder.join(format!("{stem}{ending}")),
            _ => folder.join(format!("{stem}-{number:03}{ending}")),
        }))
    }

    /// The files that a command was stopped over, or is still writing, by name.
    pub fn unfinished(&self) -> Vec<PathBuf> {
        let kinds = Kind::ALL.map(|kind| self.path.join(kind.folder()));
        let folders = BTreeSet::from_iter(std::iter::once(self.path.clone()).chain(kinds));
        folders
            .iter()
            .flat_map(|folder| unfinished_in(folder))
            .collect()
    }

    /// Notes work that was chosen or done.
    ///
    /// # Errors
    /// Whatever the operating system refuses.
    pub fn note(&self, stage: Stage, work: &Work) -> Result<PathBuf, JobError> {
        let text = toml::to_string(work).map_err(|error| JobError::Format {
            path: self.path.clone(),
            problem: error.to_string(),
        })?;
        self.file(Kind::Work, stage.word(), text.as_bytes())
    }

    /// The work chosen or done so far, oldest first.
    ///
    /// # Errors
    /// When a note cannot be read.
    pub fn works(&self, stage: Stage) -> Result<Vec<Work>, JobError> {
        let read = |filed: Filed| {
            let text =
                entries::read_file(&filed.path).map_err(|error| refused(&filed.path, error))?;
            entries::read(&text).map_err(|problem| JobError::Format {
                problem,
                path: filed.path,
            })
        };
        self.files(Kind::Work, stage.word())?
            .into_iter()
            .map(read)
            .collect()
    }

    /// The side on which the job stands: after, once work was done.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn side(&self) -> Result<Side, JobError> {
        let done = self.files(Kind::Work, Stage::Done.word())?;
        Ok(if done.is_empty() {
            Side::Before
        } else {
            Side::After
        })
    }
}

pub(super) fn refused(path: &Path, error: io::Error) -> JobError {
    match error.kind() {
        io::ErrorKind::AlreadyExists => JobError::Exists(path.to_owned()),
        _ => JobError::Io {
            path: path.to_owned(),
            error,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vehicle::Vehicle;

    fn job(bench: &Path) -> Folder {
        let visit = Visit {
            opened: "2026-11-25T08:00:00Z".parse().unwrap(),
            complaint: Some("shakes at idle".to_owned()),
            odometer_km: Some(148_200.0),
            vehicle: Vehicle {
                label: Some("van 3".to_owned()),
                cylinders: Some(4),
                ..Vehicle::default()
            },
        };
        let job = Folder::create(&bench.join("job"), &visit).unwrap();
        assert_eq!(Folder::open(job.path()).unwrap().1, visit);
        let again = Folder::create(job.path(), &visit).unwrap_err();
        assert!(matches!(again, JobError::Exists(_)), "{again}");
        job
    }

    #[test]
    fn what_several_terminals_file_at_once_is_all_there_afterwards() {
        let bench = tempfile::tempdir().unwrap();
        let job = job(bench.path());
        let terminals: Vec<_> = (0..6)
            .map(|number| {
                let job = job.clone();
                std::thread::spawn(move || {
                    for _ in 0..5 {
                        job.file(Kind::Diagnosis, "before", format!("{number}").as_bytes())
                            .unwrap();
                    }
                })
            })
            .collect();
        terminals
            .into_iter()
            .for_each(|terminal| terminal.join().unwrap());
        let files = job.files(Kind::Diagnosis, "before").unwrap();
        let mut contents: Vec<String> = files
            .iter()
            .map(|filed| fs::read_to_string(&filed.path).unwrap())
            .collect();
        contents.sort();
        let expected: Vec<String> = (0..30).map(|index| format!("{}", index / 5)).collect();
        assert_eq!(contents, expected);
    }

    #[test]
    fn files_are_reported_by_their_names_and_what_a_pulled_plug_leaves_is_passed_over() {
        let bench = tempfile::tempdir().unwrap();
        let job = job(bench.path());
        let captures = job.path().join("captures");
        for (name, content) in [
            ("before-2026-11-25-101500Z.capture.csv", "x"),
            ("before-2026-11-24-101500Z.capture.csv.gz", "x"),
            ("before.capture.csv", "x"),
            ("before-2026-11-26-101500Z.capture.csv", ""),
            (
                "before-2026-11-26-101500Z.capture.csv.k3Xw9a.unfinished",
                "x",
            ),
            ("after-2026-11-27-101500Z.capture.csv", "x"),
            ("beforehand.capture.csv", "x"),
        ] {
            fs::write(captures.join(name), content).unwrap();
        }
        let names: Vec<String> = job
            .files(Kind::Capture, "before")
            .unwrap()
            .iter()
            .map(Filed::name)
            .collect();
        assert_eq!(
            names,
            [
                "before.capture.csv",
                "before-2026-11-24-101500Z.capture.csv.gz",
                "before-2026-11-25-101500Z.capture.csv"
            ]
        );
        let unfinished = job.unfinished();
        assert_eq!(unfinished.len(), 1, "{unfinished:?}");
        assert_eq!(job.captures(Side::After).unwrap().len(), 1);
        fs::write(job.path().join("job.toml"), "").unwrap();
        assert!(matches!(Folder::open(job.path()), Err(JobError::NoJob(_))));
        for none in [bench.path().join("elsewhere"), job.path().join("job.toml")] {
            assert!(matches!(Folder::open(&none), Err(JobError::NoFolder(_))));
        }
    }

    /// Older names hold local time: 20:00 in Tokyo is 11:00 UTC, 08:30 in St John's is 12:00 UTC.
    #[test]
    fn captures_with_older_names_are_ordered_by_the_start_that_they_note() {
        let bench = tempfile::tempdir().unwrap();
        let job = job(bench.path());
        let header = |started: &str| format!("# capture 1\n# {{\"started\":\"{started}\"}}\n");
        let names = [
            ("before-2026-11-25-200000", "2026-11-25T11:00:00.5Z"),
            ("before-2026-11-25-083000", "2026-11-25T12:00:00Z"),
            ("before-idle", "2026-11-25T13:00:00Z"),
        ];
        let names = names.map(|(name, started)| {
            let name = format!("{name}.capture.csv");
            let path = job.path().join("captures").join(&name);
            fs::write(path, header(started)).unwrap();
            name
        });
        // the second in the name counts, whatever the content says
        let later = "before-2026-11-25-140000Z.capture.csv";
        let later_again = "before-2026-11-25-140000Z-002.capture.csv";
        for name in [later_again, later] {
            let path = job.path().join("captures").join(name);
            fs::write(path, header("2020-01-01T00:00:00Z")).unwrap();
        }
        let [tokyo, st_johns, idle] = &names;
        let filed = job.files(Kind::Capture, "before").unwrap();
        let found: Vec<String> = filed.iter().map(Filed::name).collect();
        assert_eq!(found, [tokyo, st_johns, idle, later, later_again]);
        let first = filed.first().unwrap().at;
        assert_eq!(first, "2026-11-25T11:00:00Z".parse().unwrap());
    }

    #[test]
    fn the_side_changes_once_work_was_done() {
        let bench = tempfile::tempdir().unwrap();
        let job = job(bench.path());
        let work = Work {
            at: "2026-11-25T10:00:00Z".parse().unwrap(),
            what: "injectors cleaned on the car".to_owned(),
            cost: Some(120.0),
        };
        job.note(Stage::Chosen, &work).unwrap();
        assert_eq!(job.side().unwrap(), Side::Before);
        job.note(Stage::Done, &work).unwrap();
        assert_eq!(job.side().unwrap(), Side::After);
        assert_eq!(job.works(Stage::Done).unwrap(), [work]);
    }

    #[test]
    fn an_entry_that_cannot_be_is_named() {
        let bench = tempfile::tempdir().unwrap();
        let job = job(bench.path());
        for (text, word) in [
            ("opened = 2026-11-25T08:00:00Z\nmileage = 3\n", "mileage"),
            (
                "opened = \"2026-11-25T08:00:00Z\"\nodometer_km = -3.0\n",
                "odometer_km",
            ),
            (
                "opened = \"2026-11-25T08:00:00Z\"\n[vehicle]\ncylinders = 99\n",
                "cylinders",
            ),
        ] {
            fs::write(job.path().join("job.toml"), text).unwrap();
            let error = Folder::open(job.path()).unwrap_err().to_string();
            assert!(
                error.contains("job.toml") && error.contains(word),
                "{error}"
            );
        }
    }
}
