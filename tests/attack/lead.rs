//! Leads the attack: hands slices to workers, kills beside them, and tells what came of it.

use std::{
    fs,
    path::{Path, PathBuf},
    process::ExitCode,
    sync::Mutex,
    thread,
    time::{Duration, Instant},
};

use super::{
    arguments,
    found::Found,
    kills::{self, Kills},
    material::Material,
    plan::{Numbers, Plan},
    slice::{Progress, Slice},
};

/// Where the system keeps files in memory; the workers write and delete all the time.
const IN_MEMORY: &str = "/dev/shm";
/// Workers for targets that wait.
const WAITING: usize = 6;
/// How long a worker may still take when time is over.
const GRACE: Duration = Duration::from_secs(5);
/// The word for the kills on the command line.
const KILLS: &str = "kills";

/// What is asked for on the command line.
struct Arguments {
    length: Duration,
    seed: u64,
    jobs: usize,
    only: Option<String>,
}

impl Arguments {
    fn read() -> Self {
        let mut read = Self {
            length: Duration::from_secs(60),
            seed: 1,
            jobs: thread::available_parallelism().map_or(1, usize::from),
            only: None,
        };
        arguments::take_each("minutes=, seed=, jobs= or only=", |name, value| {
            match name {
                "minutes" => {
                    read.length = Duration::from_secs_f64(60.0 * value.parse::<f64>().unwrap())
                }
                "seed" => read.seed = value.parse().unwrap(),
                "jobs" => read.jobs = value.parse().unwrap(),
                "only" => read.only = Some(value.to_owned()),
                _ => return false,
            }
            true
        });
        read
    }
}

/// An attack under way.
struct Attack {
    arguments: Arguments,
    folder: tempfile::TempDir,
    material: Material,
    until: Instant,
    plan: Mutex<Plan>,
    found: Mutex<Found>,
    kills: Mutex<Kills>,
}

/// Attacks, and tells what came of it.
pub fn attack() -> ExitCode {
    let arguments = Arguments::read();
    let parent = Some(PathBuf::from(IN_MEMORY)).filter(|path| path.is_dir());
    let folder = tempfile::tempdir_in(parent.unwrap_or_else(std::env::temp_dir)).unwrap();
    let material = folder.path().join("material");
    fs::create_dir(&material).unwrap();
    Material::make(&material);
    let attack = Attack {
        material: Material::read(&material),
        folder,
        until: Instant::now() + arguments.length,
        plan: Mutex::new(Plan::new(arguments.only.as_deref())),
        found: Mutex::default(),
        kills: Mutex::default(),
        arguments,
    };
    println!(
        "attack with seed {}, {} jobs",
        attack.arguments.seed, attack.arguments.jobs
    );
    attack.run();
    attack.tell()
}

impl Attack {
    fn run(&self) {
        let with_kills = self
            .arguments
            .only
            .as_deref()
            .is_none_or(|only| only == KILLS);
        thread::scope(|scope| {
            let hand_out = |name: &str, count: usize, waits| {
                for number in 0..count {
                    let folder = self.folder.path().join(format!("{name}-{number}"));
                    scope.spawn(move || self.hand_out(&folder, waits));
                }
            };
            hand_out("job", self.arguments.jobs, false);
            hand_out("waiting", WAITING, true);
            if with_kills {
                let folder = self.folder.path().join(KILLS);
                kills::run(&folder, self.arguments.seed, self.until, &self.kills);
            }
        });
    }

    /// Hands slices to one worker after the other until time is over.
    fn hand_out(&self, folder: &Path, waits: bool) {
        fs::create_dir(folder).unwrap();
        // the plan is not held while its slice is worked through
        let next = || self.plan.lock().unwrap().next(waits);
        while Instant::now() < self.until
            && let Some(numbers) = next()
        {
            let began = Instant::now();
            let (inputs, executions) = self.work(numbers, folder);
            self.plan
                .lock()
                .unwrap()
                .done(numbers, inputs, executions, began.elapsed());
        }
    }

    /// Has a slice worked through, whatever becomes of the workers; how many inputs and executions that were.
    fn work(&self, numbers: Numbers, folder: &Path) -> (u64, u64) {
        let mut slice = Some(Slice {
            target: numbers.target,
            seed: self.arguments.seed,
            from: numbers.from,
            until: numbers.until,
            smaller: false,
            material: self.material.folder().to_owned(),
            folder: folder.to_owned(),
        });
        let (mut inputs, mut executions) = (0, 0);
        while let Some(part) = slice.take().filter(|_| Instant::now() < self.until) {
            let status = part.run_until(self.until + GRACE);
            let progress = Progress::read(&part.progress());
            inputs += progress.number.saturating_sub(part.from);
            executions += progress.executions;
            // one that was stopped because time was over broke nothing, and nothing follows it
            let status = status.unwrap_or_default();
            slice = self
                .found
                .lock()
                .unwrap()
                .take(&part, status, &self.material);
        }
        (inputs, executions)
    }

    fn tell(self) -> ExitCode {
        let mut found = self.found.into_inner().unwrap();
        let kills = self.kills.into_inner().unwrap();
        let plan = self.plan.into_inner().unwrap();
        println!(
            "{:12} {:>11} {:>11} {:>9} {:>8} {:>6}",
            "target", "inputs", "executions", "a second", "crashes", "hangs"
        );
        let mut all = (0, 0, 0, 0);
        for (name, inputs, executions, worked_s) in plan.done_so_far() {
            let (crashes, hangs) = found.counts(name);
            let rate = executions as f64 / worked_s.max(1e-9);
            println!("{name:12} {inputs:11} {executions:11} {rate:9.0} {crashes:8} {hangs:6}");
            all = (
                all.0 + inputs,
                all.1 + executions,
                all.2 + crashes,
                all.3 + hangs,
            );
        }
        println!(
            "{:12} {:11} {:11} {:9} {:8} {:6}",
            "all", all.0, all.1, "", all.2, all.3
        );
        kills.tell();
        found.make_smaller();
        found.save();
        if found.is_nothing() && kills.is_clean() {
            ExitCode::SUCCESS
        } else {
            ExitCode::FAILURE
        }
    }
}
