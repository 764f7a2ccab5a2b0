//! The job of the demo, step by step: drive and record, diagnose, mend, drive and record again, compare.

use std::{
    fs,
    io::{IsTerminal, stdout},
    path::{Path, PathBuf},
};

use super::{
    super::{
        captured, diagnose::standard_tables, failure::Failure, filing, one_car::SameCar, output,
        report, terminal,
    },
    bay,
    drive::Drive,
};
use crate::{
    cause::Cause,
    clock::Clock,
    compare::{FuelAnswer, Limits, compare},
    diagnose::{Diagnosis, Tables, diagnose},
    io_words,
    job::{COMPARISON, Folder, Kind, Side, Stage, Visit, Work},
    quantity::Units,
    report::{comparison, json, text},
    series::summary::Summary,
    simulator::car::{fault::Fault, fleet::CarSpec, trip::Trip},
    stamp,
};

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
    /// Whether the screen, or at least how far it is, is shown on a terminal.
    pub(super) shows: bool,
}

impl Job {
    /// Does the job and shows what came of it.
    pub(super) async fn run(&self) -> Result<(), Failure> {
        let tables = standard_tables()?;
        let folder = Folder::create(&self.folder, &self.visit())
            .map_err(|error| Failure::of(error, "choose another folder with --out"))?;
        let filed = |side| filing::Job {
            folder: folder.clone(),
            visit: self.visit(),
            side,
        };
        let trip = (self.drive)(self.seed);
        let again = same_day(&trip, (self.drive)(self.seed.wrapping_add(1)));
        let job = filed(Side::Before);
        let (before, first) = self.side(&job, &[self.fault], trip, &tables).await?;
        self.mend(&folder)?;
        let job = filed(Side::After);
        let (after, second) = self.side(&job, &[], again, &tables).await?;
        let compared = compare(&[first], &[second], &Limits::default(), FuelAnswer::Unknown);
        job.file_json_as(
            Kind::Comparison,
            COMPARISON,
            &comparison::document(&compared),
        )?;
        let page = report::write(&self.folder, None, Units::Metric, None, SameCar::default())?;
        let width = terminal::width();
        output::print_finding(&text::render(&before, width))?;
        let then = terminal::paragraph(&format!(
            "Work done: {}. Then the codes were cleared, and the car relearned its fuel trims before the second \
             drive. Result: {}",
            self.mended(),
            text::finding(&after)
        ));
        output::print(&format!("{then}\n"))?;
        output::print_finding(&comparison::render(&compared, width))?;
        output::print(&format!(
            "\nEverything is in {}\nThe page for the customer is {}\n",
            self.folder.display(),
            page.display()
        ))
    }

    /// Drives, records and judges one side, and files what came of it.
    async fn side(
        &self,
        job: &filing::Job,
        faults: &[Fault],
        trip: Trip,
        tables: &Tables,
    ) -> Result<(Diagnosis, Summary), Failure> {
        let path = job.new_capture(job.side.word())?;
        self.record(&path, faults, trip).await?;
        let vehicle = self.spec.vehicle();
        let summary = captured::read(&path)?.summary;
        let diagnosis = diagnose(std::slice::from_ref(&summary), &vehicle, tables);
        let names = [path.display().to_string()];
        job.file_json(
            Kind::Diagnosis,
            &json::document(&diagnosis, &names, &vehicle),
        )?;
        Ok((diagnosis, summary))
    }

    async fn record(&self, path: &Path, faults: &[Fault], trip: Trip) -> Result<(), Failure> {
        let length_us = trip.duration_us();
        let clock = Clock::simulated();
        let place = bay::usual_place();
        let car = bay::car(self.spec, faults, trip, self.seed, 0)?;
        let endpoint = bay::open(car, &clock, place)?;
        output::remark(format_args!(
            "{}: driving {}, adapter at {}",
            path.display(),
            self.spec.label,
            endpoint.address()
        ));
        let drive = Drive {
            device: bay::device(&endpoint, place),
            vehicle: self.spec.vehicle(),
            clock,
            length_us,
            waits: self.waits,
        };
        if self.shows && stdout().is_terminal() {
            drive.watch(path)
        } else {
            drive.record(path, self.shows).await
        }
    }

    fn visit(&self) -> Visit {
        let complaint = match self.fault.cause {
            Cause::NoneFound => "none, a check-up",
            _ => "runs rough and hesitates",
        };
        Visit {
            opened: jiff::Timestamp::now(),
            complaint: Some(complaint.to_owned()),
            odometer_km: None,
            vehicle: self.spec.vehicle(),
        }
    }

    /// Notes in the job what was done to the car.
    fn mend(&self, folder: &Folder) -> Result<(), Failure> {
        let work = Work {
            at: jiff::Timestamp::now(),
            what: self.mended().to_owned(),
            cost: None,
        };
        folder.note(Stage::Done, &work).map_err(filing::failure)?;
        Ok(())
    }

    const fn mended(&self) -> &'static str {
        match self.fault.cause {
            Cause::NoneFound => "nothing",
            Cause::InjectorDead | Cause::InjectorLeaking => "injector replaced",
            cause if cause.is_injector() => "injectors cleaned",
            _ => "fault repaired",
        }
    }
}

/// Makes the folder: the one named, or a new dated one in the current folder.
pub(super) fn new_folder(named: Option<&Path>) -> Result<PathBuf, Failure> {
    let dated = || format!("demo-{}", stamp::now()).into();
    let folder = named.map_or_else(dated, Path::to_path_buf);
    fs::create_dir_all(&folder).map_err(|error| {
        let problem = io_words::problem_of_new_file(&error);
        Failure::new(
            folder.display(),
            problem,
            "choose another folder with --out",
        )
    })?;
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
