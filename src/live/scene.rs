//! All that a frame shows, put together anew for each.

use super::{judge::Judgement, key::KeyContext, model::Model, typing::Typing};
use crate::guide::Guidance;

/// What stands on the screen.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The vehicle's label, or what else the data are called.
    pub title: &'a str,
    /// Time of the recording, µs since it started, also while nothing comes.
    pub now_us: u64,
    /// What is recorded so far; nothing before the car answers.
    pub model: Option<&'a Model>,
    /// What that is judged to say.
    pub judgement: &'a Judgement,
    /// Where the data come from, and how that is.
    pub source: &'a Source,
    /// Where they are written.
    pub file: Option<&'a File>,
    /// What has been driven of what a sound answer needs; nothing before the car answers.
    pub guidance: Option<&'a Guidance>,
    /// Whether it leads through that step by step.
    pub guided: bool,
    /// Which keys mean something.
    pub contexts: &'a [KeyContext],
    /// A mark's text while it is typed.
    pub typing: Option<&'a Typing>,
    /// Whether the keys are explained in place of the rest.
    pub help: bool,
}

/// Where the data come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// There is no car yet; what is being tried.
    Seeking {
        /// What is being tried.
        stage: String,
    },
    /// Connecting failed, and is tried again.
    Refused {
        /// What happened.
        words: String,
        /// What the person can do.
        next_step: String,
    },
    /// A car that answers.
    Car {
        /// Answers a second, lately.
        answers_per_s: f64,
    },
    /// A car, but the link is in trouble; what, and what to do.
    Troubled {
        /// What is wrong with the link, and what to do.
        words: String,
    },
    /// A recording.
    Recording(Playback),
}

/// Where a replay stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Playback {
    /// Time of the first row, µs since the recording started.
    pub begin_us: u64,
    /// Time shown, µs since the recording started.
    pub at_us: u64,
    /// Time up to which the capture was read, µs.
    pub read_us: u64,
    /// Length, µs; `None` until the capture was read to its end.
    pub length_us: Option<u64>,
    /// Seconds of the recording in a second.
    pub speed: f64,
    /// Whether it stands still.
    pub paused: bool,
    /// Whether it stands at the end.
    pub ended: bool,
    /// Times of the marks found so far, µs, in their order.
    pub marks_us: Vec<u64>,
    /// Whether the place asked for is still being read for.
    pub seeking: bool,
}

/// The capture being written.
#[derive(Debug, Clone, PartialEq)]
pub struct File {
    /// Its name without the folder.
    pub name: String,
    /// Its size so far, bytes.
    pub bytes: u64,
    /// Seconds since it was last brought safely to the disk.
    pub flushed_s_ago: f64,
}
