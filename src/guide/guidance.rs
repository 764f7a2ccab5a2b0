//! What the guided run has to tell right now: plain values, ready to be drawn.

use super::{
    feedback::Feedback,
    step::{Hold, Task},
};
use crate::{caution::Caution, compare::coverage::WantedCell};

/// The guided run at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Guidance {
    /// The step's number, from 1.
    pub number: usize,
    /// How many steps there are.
    pub of: usize,
    /// What the step is there for.
    pub task: Task,
    /// A few words.
    pub title: &'static str,
    /// What to do, one sentence.
    pub instruction: &'static str,
    /// Why, one sentence.
    pub why: &'static str,
    /// The dangers of the step.
    pub cautions: &'static [Caution],
    /// What has to be held; `None` where it is nothing.
    pub hold: Option<Hold>,
    /// Against what the step's seconds are counted.
    pub against: Against,
    /// Whether the last seconds count, or why not.
    pub feedback: Feedback,
    /// Of this step; no seconds are wanted for warming up and for finishing.
    pub progress: Progress,
    /// Of all steps.
    pub whole: Progress,
    /// How every step stands, in their order.
    pub steps: Vec<StepState>,
    /// Cells of the earlier captures that are still to be visited, of every region, those with most left first; empty
    /// without earlier captures.
    pub wanted: Vec<WantedCell>,
}

/// Seconds that count, of those wanted.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Progress {
    /// Counted so far; never more than wanted.
    pub counted_seconds: f64,
    /// Wanted.
    pub wanted_seconds: f64,
}

/// Against what a step's seconds are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// The region's seconds alone.
    Nothing,
    /// Only seconds that can be matched with the earlier captures.
    Earlier,
    /// There are earlier captures, but they were hardly here: the seconds serve the finding, not the comparison.
    HardlyThere,
}

/// How a step stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepState {
    /// Its title.
    pub title: &'static str,
    /// How it stands.
    pub status: Status,
    /// Its seconds.
    pub progress: Progress,
}

/// How a step stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Still to come.
    Open,
    /// Being held.
    Current,
    /// Held long enough.
    Done,
    /// Left out.
    Skipped,
}
