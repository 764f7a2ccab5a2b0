//! Where a job stands in its six steps, and what comes next.

use super::{
    error::JobError,
    folder::{COMPARISON, Folder, Kind},
    side::Side,
    work::Stage,
};

/// The six steps of a job, in a few words each.
pub const STEPS: [&str; 6] = [
    "ask the engine",
    "separate look-alikes",
    "test on the bench and at the rail",
    "choose the least treatment",
    "do the work",
    "prove it",
];

/// The next step of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// Record on this side.
    Record(Side),
    /// The work was done on a car that had not been recorded: only its present state can be recorded.
    TooLate,
    /// Diagnose the recordings from before the work.
    Diagnose,
    /// Make the checks that the diagnosis lists, or choose at once where it is settled.
    CheckOrChoose,
    /// Choose the treatment.
    Choose,
    /// Carry it out.
    Work,
    /// Compare both sides.
    Compare,
    /// Write the page.
    Report,
    /// Nothing: the page is written and nothing has come since.
    Nothing,
}

/// State of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Which of [`STEPS`] are done.
    pub done: [bool; 6],
    /// Captures before and after.
    pub captures: [usize; 2],
    /// What comes next.
    pub next: Next,
}

impl Standing {
    /// Determines the state from the files of the job.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn of(job: &Folder) -> Result<Self, JobError> {
        let latest = |kind, word| Ok(job.latest(kind, word)?.map(|filed| filed.at));
        let before = job.files(Kind::Capture, Side::Before.word())?;
        let after = job.files(Kind::Capture, Side::After.word())?;
        let last_before = before.last().map(|filed| filed.at);
        let last_after = after.last().map(|filed| filed.at);
        let diagnosis = latest(Kind::Diagnosis, Side::Before.word())?;
        let bench = latest(Kind::Bench, Side::Before.word())?;
        let comparison = latest(Kind::Comparison, COMPARISON)?;
        let report = latest(Kind::Report, "report")?;
        let chosen = latest(Kind::Work, Stage::Chosen.word())?;
        let worked = latest(Kind::Work, Stage::Done.word())?;

        let asked = last_before.is_some();
        let judged = asked && diagnosis >= last_before;
        let measured = bench.is_some();
        let done = worked.is_some();
        let chosen = chosen.is_some() || done;
        let compared =
            last_after.is_some() && comparison >= last_after && comparison >= last_before;
        let reported = report.is_some() && report >= comparison && report >= worked;
        let next = if !asked && done {
            Next::TooLate
        } else if !asked {
            Next::Record(Side::Before)
        } else if !judged && !done {
            Next::Diagnose
        } else if !chosen && !measured {
            Next::CheckOrChoose
        } else if !chosen {
            Next::Choose
        } else if !done {
            Next::Work
        } else if after.is_empty() {
            Next::Record(Side::After)
        } else if !compared {
            Next::Compare
        } else if !reported {
            Next::Report
        } else {
            Next::Nothing
        };
        Ok(Self {
            done: [asked, judged, measured, chosen, done, compared && reported],
            captures: [before.len(), after.len()],
            next,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        job::{Visit, Work},
        vehicle::Vehicle,
    };

    fn just_opened(path: &std::path::Path) -> Folder {
        let visit = Visit {
            opened: jiff::Timestamp::now(),
            complaint: None,
            odometer_km: None,
            vehicle: Vehicle::default(),
        };
        Folder::create(path, &visit).unwrap()
    }

    /// The six steps one after the other, each by what is filed in it.
    #[test]
    fn each_step_leads_to_the_next() {
        let bench = tempfile::tempdir().unwrap();
        let job = just_opened(bench.path());
        let next = || Standing::of(&job).unwrap().next;
        let work = Work {
            at: jiff::Timestamp::now(),
            what: "cleaned".to_owned(),
            cost: None,
        };
        assert_eq!(next(), Next::Record(Side::Before));
        job.file(Kind::Capture, "before", b"x").unwrap();
        assert_eq!(next(), Next::Diagnose);
        job.file(Kind::Diagnosis, "before", b"x").unwrap();
        assert_eq!(next(), Next::CheckOrChoose);
        job.file(Kind::Bench, "before", b"x").unwrap();
        assert_eq!(next(), Next::Choose);
        job.note(Stage::Chosen, &work).unwrap();
        assert_eq!(next(), Next::Work);
        job.note(Stage::Done, &work).unwrap();
        assert_eq!(next(), Next::Record(Side::After));
        job.file(Kind::Capture, "after", b"x").unwrap();
        assert_eq!(next(), Next::Compare);
        job.file(Kind::Comparison, "comparison", b"x").unwrap();
        assert_eq!(next(), Next::Report);
        job.file(Kind::Report, "report", b"x").unwrap();
        assert_eq!(next(), Next::Nothing);
        assert_eq!(Standing::of(&job).unwrap().done, [true; 6]);
    }

    /// What is recorded after the work is filed as `after`: it cannot be the car as it came any more.
    #[test]
    fn after_work_on_a_car_never_recorded_nobody_is_sent_to_record_it_as_it_came() {
        let bench = tempfile::tempdir().unwrap();
        let job = just_opened(bench.path());
        let work = Work {
            at: jiff::Timestamp::now(),
            what: "cleaned".to_owned(),
            cost: None,
        };
        job.note(Stage::Done, &work).unwrap();
        assert_eq!(Standing::of(&job).unwrap().next, Next::TooLate);
    }

    #[test]
    fn a_capture_that_came_later_than_its_diagnosis_is_to_be_judged() {
        let bench = tempfile::tempdir().unwrap();
        let job = just_opened(bench.path());
        for (folder, name) in [
            ("captures", "before-2026-11-25-101500Z.capture.csv"),
            ("findings", "before-2026-11-25-102000Z.diagnosis.json"),
            ("captures", "before-2026-11-25-120000Z.capture.csv"),
        ] {
            std::fs::create_dir_all(bench.path().join(folder)).unwrap();
            std::fs::write(bench.path().join(folder).join(name), "x").unwrap();
        }
        assert_eq!(Standing::of(&job).unwrap().next, Next::Diagnose);
    }
}
