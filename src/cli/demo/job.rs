//! The job of the demo, step by step: drive and record, diagnose, mend, drive and record again, compare.

use std::{
    fs,
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use indicatif::ProgressBar;
use serde::Serialize;

use super::{
    super::{
        captured, connect, diagnose::standard_tables, failure::Failure, interrupt::Interrupt,
        output, terminal,
    },
    bay,
};
use crate::{
    capture::{CaptureError, Writer},
    cause::Cause,
    clock::Clock,
    compare::{Limits, compare},
    diagnose::{Diagnosis, Tables, diagnose},
    link::{Ending, Progress, RecordError, Session},
    report::{comparison, json, text},
    series::summary::Summary,
    simulator::{fault::Fault, fleet::CarSpec, trip::Trip},
    vehicle::Vehicle,
};

/// How much faster than the clock the car is driven when somebody watches.
const PACE: u32 = 30;

/// The job: which car, what is wrong with it, where the files go.
pub(super) struct Job {
    pub(super) spec: &'static CarSpec,
    pub(super) fault: Fault,
    pub(super) seed: u64,
    pub(super) folder: PathBuf,
    /// Draws a drive from its seed.
    pub(super) drive: fn(u64) -> Trip,
    /// Whether a watching person is waited for.
    pub(super) waits: bool,
    /// Whether progress is shown on a terminal.
    pub(super) shows: bool,
}

impl Job {
    /// Does the job and gives the text to show.
    pub(super) async fn run(&self) -> Result<String, Failure> {
        let tables = standard_tables()?;
        let vehicle = self.spec.vehicle();
        self.keep("vehicle.toml", &vehicle_file(&vehicle)?)?;
        let trip = (self.drive)(self.seed);
        let again = same_day(&trip, (self.drive)(self.seed.wrapping_add(1)));
        let (before, first) = self.side("before", &[self.fault], trip, &tables).await?;
        let (after, second) = self.side("after", &[], again, &tables).await?;
        let compared = compare(&[first], &[second], &Limits::default());
        let document = as_json("comparison", &comparison::document(&compared))?;
        self.keep("comparison.json", &document)?;
        let layout = text::Layout {
            width: terminal::width(),
            bold: terminal::letters(),
        };
        Ok(format!(
            "{}\n{}\nAfterwards: {}\n\n{}\nEverything is in {}\n",
            text::render(&before, layout),
            self.mended(),
            text::finding(&after),
            comparison::render(&compared, layout),
            self.folder.display()
        ))
    }

    /// Drives, records and judges one side, and keeps what came of it.
    async fn side(
        &self,
        name: &str,
        faults: &[Fault],
        trip: Trip,
        tables: &Tables,
    ) -> Result<(Diagnosis, Summary), Failure> {
        let path = self.folder.join(format!("{name}.capture.csv"));
        self.record(&path, faults, trip).await?;
        let vehicle = self.spec.vehicle();
        let summary = captured::read(&path)?.summary;
        let diagnosis = diagnose(std::slice::from_ref(&summary), &vehicle, tables);
        let names = [path.display().to_string()];
        let text = as_json(name, &json::document(&diagnosis, &names, &vehicle))?;
        self.keep(&format!("{name}.diagnosis.json"), &text)?;
        Ok((diagnosis, summary))
    }

    async fn record(&self, path: &Path, faults: &[Fault], trip: Trip) -> Result<(), Failure> {
        let mut interrupt = Interrupt::listen().map_err(|error| {
            Failure::new("this computer", error, "close other programs and try again")
        })?;
        let length_us = trip.duration_us();
        let clock = Clock::simulated();
        let place = bay::usual_place();
        let endpoint = bay::open(self.spec, faults, trip, self.seed, &clock, place)?;
        let device = bay::device(&endpoint, place);
        let link = |error| connect::failure(&device, &error);
        let mut session = Session::connect(device.clone(), clock)
            .await
            .map_err(link)?;
        let file = |error: CaptureError| Failure::new(path.display(), &error, error.next_step());
        let header = session.header(Some(self.spec.vehicle()));
        let mut writer = Writer::create(path, &header).map_err(file)?;
        output::remark(format_args!(
            "{}: driving {}, plugged in at {}",
            path.display(),
            self.spec.label,
            endpoint.address()
        ));
        let pace = Pace::new(self.waits, self.shows, length_us);
        let recorded = session
            .record(
                &mut writer,
                Some(length_us),
                interrupt.wished(),
                |_, progress| {
                    pace.keep(progress);
                },
            )
            .await;
        pace.bar.finish_and_clear();
        writer.finish().map_err(file)?;
        match recorded {
            Ok(recorded) if recorded.ending == Ending::TimeOver => Ok(()),
            Ok(_) => Err(Failure::interrupted(format!(
                "stopped; {} is kept",
                path.display()
            ))),
            Err(RecordError::Link(error)) => Err(link(error)),
            Err(RecordError::Capture(error)) => Err(file(error)),
        }
    }

    fn mended(&self) -> String {
        let what = match self.fault.cause {
            Cause::NoneFound => "Nothing was done to the car.",
            Cause::InjectorDead => "Then the injector was replaced.",
            cause if cause.is_injector() => "Then the injectors were cleaned.",
            _ => "Then the fault was mended.",
        };
        format!(
            "{what} Codes were cleared, and the trims were learned anew before the second drive."
        )
    }

    fn keep(&self, name: &str, text: &str) -> Result<(), Failure> {
        let path = self.folder.join(name);
        let write = || -> std::io::Result<()> {
            let mut file = fs::File::create_new(&path)?;
            std::io::Write::write_all(&mut file, text.as_bytes())
        };
        write()
            .map_err(|error| Failure::new(path.display(), error, "name another folder with --out"))
    }
}

/// Makes the folder: the one named, or a new dated one in the current folder.
pub(super) fn new_folder(named: Option<&Path>) -> Result<PathBuf, Failure> {
    let dated = || {
        jiff::Zoned::now()
            .strftime("demo-%Y-%m-%d-%H%M%S")
            .to_string()
            .into()
    };
    let folder = named.map_or_else(dated, Path::to_path_buf);
    fs::create_dir_all(&folder)
        .map_err(|error| Failure::new(folder.display(), error, "name another folder with --out"))?;
    Ok(folder)
}

/// The second drive on the day of the first: the same fuel, a little less of it, and the same weather.
fn same_day(first: &Trip, second: Trip) -> Trip {
    Trip {
        period: first.period,
        ambient_c: first.ambient_c,
        barometer_kpa: first.barometer_kpa,
        fuel_level_pct: first.fuel_level_pct - 4.0,
        ..second
    }
}

fn as_json(name: &str, document: &impl Serialize) -> Result<String, Failure> {
    serde_json::to_string_pretty(document)
        .map_err(|error| Failure::new(name, error, "report this as a fault of the program"))
}

fn vehicle_file(vehicle: &Vehicle) -> Result<String, Failure> {
    toml::to_string(vehicle).map_err(|error| {
        Failure::new(
            "vehicle file",
            error,
            "report this as a fault of the program",
        )
    })
}

/// Keeps simulated time to the pace that a person can watch, and shows how far it is.
struct Pace {
    began: Instant,
    waits: bool,
    bar: ProgressBar,
}

impl Pace {
    fn new(waits: bool, shows: bool, length_us: u64) -> Self {
        let bar = match shows {
            true => terminal::seconds_bar(length_us / 1_000_000),
            false => ProgressBar::hidden(),
        };
        Self {
            began: Instant::now(),
            waits,
            bar,
        }
    }

    /// Called after each answer. The recorder has nothing else to do meanwhile: it may be held up.
    fn keep(&self, progress: &Progress) {
        self.bar.set_position(progress.elapsed_us / 1_000_000);
        if self.waits {
            let due = Duration::from_micros(progress.elapsed_us) / PACE;
            std::thread::sleep(due.saturating_sub(self.began.elapsed()));
        }
    }
}
