//! What the page is made of: plain values, gathered before anything is written.

use crate::{
    compare::Comparison,
    diagnose::Diagnosis,
    job::{Visit, Work},
    quantity::Units,
    series::{summary::Seconds, timeline::course::Course},
};

/// All that the page shows.
#[derive(Debug)]
pub struct Content {
    /// What was said when the car came.
    pub visit: Visit,
    /// The day on which the page is written, in local words.
    pub written: String,
    /// What was recorded and measured before the work and after it.
    pub sides: [Option<Measured>; 2],
    /// Both sides held against each other, where there are both.
    pub comparison: Option<Comparison>,
    /// Treatments chosen, oldest first.
    pub chosen: Vec<Work>,
    /// Work carried out, oldest first.
    pub done: Vec<Work>,
    /// What leaves a doubt whether all this is of one car, and what was overruled, in sentences.
    pub doubts: Vec<String>,
    /// Units for people.
    pub units: Units,
}

/// What was recorded and measured on one side of the work.
#[derive(Debug)]
pub struct Measured {
    /// The trips, oldest first.
    pub trips: Vec<Trip>,
    /// What they say together.
    pub diagnosis: Diagnosis,
}

/// One capture.
#[derive(Debug)]
pub struct Trip {
    /// Name of the file.
    pub name: String,
    /// The day on which it was recorded, in local words, where the capture tells.
    pub day: Option<String>,
    /// Seconds by label.
    pub seconds: Seconds,
    /// How it went.
    pub course: Course,
}

impl Content {
    /// What was found as the car came.
    pub fn before(&self) -> Option<&Measured> {
        self.side(0)
    }

    /// What was found after the work.
    pub fn after(&self) -> Option<&Measured> {
        self.side(1)
    }

    /// The latest side of which there is anything.
    pub fn latest(&self) -> Option<&Measured> {
        self.after().or_else(|| self.before())
    }

    /// Both findings.
    pub fn diagnoses(&self) -> [Option<&Diagnosis>; 2] {
        [self.before(), self.after()].map(|side| side.map(|measured| &measured.diagnosis))
    }

    fn side(&self, number: usize) -> Option<&Measured> {
        self.sides.get(number).and_then(Option::as_ref)
    }
}
