//! The guided run at one moment: plain values, ready to be drawn.

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
    /// Purpose of the step.
    pub task: Task,
    /// Title of the step, a few words.
    pub title: &'static str,
    /// What to do, in one sentence.
    pub instruction: &'static str,
    /// Why to do it, in one sentence.
    pub why: &'static str,
    /// The dangers of the step.
    pub cautions: &'static [Caution],
    /// Operation to be held; `None` where none is required.
    pub hold: Option<Hold>,
    /// Which seconds count for the step.
    pub against: Against,
    /// Whether the last seconds count, or why not.
    pub feedback: Feedback,
    /// Progress of this step; warming up and finishing want no seconds.
    pub progress: Progress,
    /// Progress of all steps together.
    pub whole: Progress,
    /// State of every step, in order.
    pub steps: Vec<StepState>,
    /// Cells of the earlier captures that are still to be driven, of every region, those with most time left first;
    /// empty without earlier captures.
    pub wanted: Vec<WantedCell>,
}

impl Guidance {
    /// Whether there is enough data, or which steps were skipped and which are not done.
    pub fn standing(&self) -> String {
        let mut skipped = Vec::new();
        let mut open = Vec::new();
        for step in &self.steps {
            let Progress {
                counted_seconds,
                wanted_seconds,
            } = step.progress;
            if counted_seconds >= wanted_seconds {
                continue;
            }
            let title = step.title.to_lowercase();
            if step.was_skipped {
                skipped.push(title)
            } else {
                open.push(format!(
                    "{title} {counted_seconds:.0} of {wanted_seconds:.0} s"
                ))
            }
        }
        if skipped.is_empty() && open.is_empty() {
            return "Enough data recorded.".to_owned();
        }
        let sentence = |beginning: &str, steps: &[String]| match steps {
            [] => None,
            steps => Some(format!("{beginning}: {}.", steps.join(", "))),
        };
        let sentences = [
            sentence("Skipped", &skipped),
            sentence("Not finished", &open),
        ];
        let sentences: Vec<String> = sentences.into_iter().flatten().collect();
        sentences.join(" ")
    }
}

/// Seconds that count, against those wanted.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Progress {
    /// Seconds counted so far; never more than wanted.
    pub counted_seconds: f64,
    /// Seconds wanted.
    pub wanted_seconds: f64,
}

/// Which seconds count for a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Every second in the region.
    Nothing,
    /// Only seconds that can be matched with the earlier captures.
    Earlier,
    /// Every second in the region, for the diagnosis only: the earlier captures have hardly any of this region.
    HardlyThere,
}

/// State of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepState {
    /// Title of the step.
    pub title: &'static str,
    /// Status of the step.
    pub status: Status,
    /// Whether the person skipped it, also while it is the current one.
    pub was_skipped: bool,
    /// Progress of the step.
    pub progress: Progress,
}

/// Status of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Still to come.
    Open,
    /// The current step.
    Current,
    /// Done.
    Done,
    /// Skipped by the person.
    Skipped,
}
