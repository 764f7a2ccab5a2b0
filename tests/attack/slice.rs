//! A slice of the attack: inputs of one target by their numbers, handed to a worker on its command line.

use std::{
    fs::File,
    path::{Path, PathBuf},
    process::{Child, Command, ExitStatus, Stdio},
    thread,
    time::{Duration, Instant},
};

use super::target::{TARGETS, Target};

/// The first argument of a worker.
const WORK: &str = "work";
/// The files behind a worker's standard output and standard error.
pub const RESULTS: &str = "results";
pub const REMARKS: &str = "remarks";

/// What a worker is to do.
#[derive(Debug, Clone)]
pub struct Slice {
    /// Place of the target in the table.
    pub target: usize,
    /// Seed of the attack.
    pub seed: u64,
    /// Number of the first input.
    pub from: u64,
    /// Number behind the last one.
    pub until: u64,
    /// Whether what breaks something is to be made smaller.
    pub smaller: bool,
    /// Folder of sound files.
    pub material: PathBuf,
    /// Folder of the worker's own.
    pub folder: PathBuf,
}

impl Slice {
    /// What this process is to do as a worker; nothing in the process that leads.
    pub fn of_arguments() -> Option<Self> {
        let mut arguments = std::env::args().skip(1);
        let first = arguments.next()?;
        let mut next = || arguments.next().unwrap();
        (first == WORK).then(|| Self {
            target: next().parse().unwrap(),
            seed: next().parse().unwrap(),
            from: next().parse().unwrap(),
            until: next().parse().unwrap(),
            smaller: next().parse().unwrap(),
            material: next().into(),
            folder: next().into(),
        })
    }

    pub fn start(&self) -> Child {
        let numbers = [self.target as u64, self.seed, self.from, self.until];
        Command::new(std::env::current_exe().unwrap())
            .arg(WORK)
            .args(numbers.map(|number| number.to_string()))
            .arg(self.smaller.to_string())
            .args([&self.material, &self.folder])
            .env("TMPDIR", &self.folder)
            .stdin(Stdio::null())
            .stdout(File::create(self.said(RESULTS)).unwrap())
            .stderr(File::create(self.said(REMARKS)).unwrap())
            .spawn()
            .unwrap()
    }

    /// Has a worker do it; nothing when that took longer than until then.
    pub fn run_until(&self, until: Instant) -> Option<ExitStatus> {
        let mut worker = self.start();
        loop {
            if let Some(status) = worker.try_wait().unwrap() {
                return Some(status);
            }
            if Instant::now() > until {
                worker.kill().unwrap();
                worker.wait().unwrap();
                return None;
            }
            thread::sleep(Duration::from_millis(5));
        }
    }

    /// What is attacked.
    pub fn target(&self) -> &'static Target {
        &TARGETS[self.target]
    }

    /// What the worker's commands print, to standard output or standard error.
    pub fn said(&self, what: &str) -> PathBuf {
        self.folder.join(what)
    }

    /// Where the worker says how far it is.
    pub fn progress(&self) -> PathBuf {
        self.folder.join("progress")
    }

    /// Where the worker says what went on and on.
    pub fn hung(&self) -> PathBuf {
        self.folder.join("hung")
    }

    /// Where the worker keeps what broke something.
    pub fn broken(&self) -> PathBuf {
        made(self.folder.join("broken"))
    }
}

/// The folder, made if it is not there.
fn made(folder: PathBuf) -> PathBuf {
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// How far a worker is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// Number of the input that is being taken in.
    pub number: u64,
    /// Executions so far.
    pub executions: u64,
}

impl Progress {
    pub const fn to_bytes(self) -> [u8; 16] {
        ((self.number as u128) << 64 | self.executions as u128).to_le_bytes()
    }

    /// What the worker last said.
    pub fn read(path: &Path) -> Self {
        let bytes = std::fs::read(path).unwrap_or_default();
        let whole = bytes.try_into().map_or(0, u128::from_le_bytes);
        Self {
            number: (whole >> 64) as u64,
            executions: whole as u64,
        }
    }
}
