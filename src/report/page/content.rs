//! Content of the page: plain values, collected before anything is written.

use crate::{
    compare::Comparison,
    diagnose::Diagnosis,
    job::{Visit, Work},
    quantity::Units,
    series::{summary::Seconds, timeline::course::Course},
};

/// Everything that the page shows.
#[derive(Debug)]
pub struct Content {
    /// What the customer reported when the car came in.
    pub visit: Visit,
    /// The day on which the page is written, in local words.
    pub written: String,
    /// What was recorded and measured before the work and after it.
    pub sides: [Option<Measured>; 2],
    /// Comparison of both sides; `None` unless there are both.
    pub comparison: Option<Comparison>,
    /// Treatments chosen, oldest first.
    pub chosen: Vec<Work>,
    /// Work carried out, oldest first.
    pub done: Vec<Work>,
    /// Doubts whether everything is of one car, and what was overruled, in sentences.
    pub doubts: Vec<String>,
    /// Units for people.
    pub units: Units,
}

/// Recordings and readings on one side of the work.
#[derive(Debug)]
pub struct Measured {
    /// The trips, oldest first.
    pub trips: Vec<Trip>,
    /// The diagnosis from all trips together.
    pub diagnosis: Diagnosis,
}

/// One capture.
#[derive(Debug)]
pub struct Trip {
    /// Name of the file.
    pub name: String,
    /// The day of the recording, in local words; `None` where the capture does not hold it.
    pub day: Option<String>,
    /// Seconds by label.
    pub seconds: Seconds,
    /// Course of the trip.
    pub course: Course,
}

impl Content {
    /// The side before the work.
    pub fn before(&self) -> Option<&Measured> {
        self.side(0)
    }

    /// The side after the work.
    pub fn after(&self) -> Option<&Measured> {
        self.side(1)
    }

    /// The latest side that holds anything.
    pub fn latest(&self) -> Option<&Measured> {
        self.after().or_else(|| self.before())
    }

    /// The diagnoses of both sides.
    pub fn diagnoses(&self) -> [Option<&Diagnosis>; 2] {
        [self.before(), self.after()].map(|side| side.map(|measured| &measured.diagnosis))
    }

    fn side(&self, number: usize) -> Option<&Measured> {
        self.sides.get(number).and_then(Option::as_ref)
    }
}
