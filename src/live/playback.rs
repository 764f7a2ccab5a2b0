//! A capture as if it were recorded now: position, speed, standing still, going to another place.
//!
//! At a position stands what all rows up to that time say, whichever way led there.

use std::{
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use super::{
    model::Model,
    scene,
    survey::{Checkpoint, Density, Survey},
};
use crate::capture::{CaptureError, Header, Next, Reader};

/// Speeds, seconds of the recording in a second.
pub const SPEEDS: std::ops::RangeInclusive<f64> = 0.125..=1024.0;

/// Longest time spent on rows in one frame: half of it, so that drawing and keys are not held up.
const LONGEST: Duration = Duration::from_millis(15);

/// Rows between two looks at the clock.
const ROWS_AT_ONCE: u32 = 64;

/// Whoever has just come to a mark and lets it play can still go to the one before within this time, µs.
const LENIENCE_US: u64 = 1_000_000;

/// A place that was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Goal {
    /// A time, µs.
    Time(u64),
    /// The first mark after a time, µs.
    MarkAfter(u64),
}

/// A capture being played.
pub struct Playback {
    path: PathBuf,
    reader: Reader,
    model: Model,
    start: Checkpoint,
    survey: Survey,
    paused: bool,
    speed: f64,
    /// Time of the first row, µs.
    begin_us: u64,
    /// Position, µs since the recording started.
    at_us: u64,
    goal: Option<Goal>,
    /// Whether the last row was taken.
    ended: bool,
}

impl Playback {
    /// Opens a capture and stands at its first row.
    ///
    /// # Errors
    /// When there is no file, or it does not begin as a capture does.
    pub fn open(path: &Path, speed: f64) -> Result<Self, CaptureError> {
        Self::with_density(path, speed, Density::USUAL)
    }

    fn with_density(path: &Path, speed: f64, density: Density) -> Result<Self, CaptureError> {
        let mut reader = Reader::open(path)?;
        let start = Checkpoint {
            model: Model::new(reader.header(), &[]),
            place: reader.place(),
        };
        let mut model = start.model.clone();
        let begin_us = match reader.next_row_until(0)? {
            Next::Later(t_us) => t_us,
            Next::End => 0,
            Next::Row(row) => {
                model.take(&row);
                0
            }
        };
        Ok(Self {
            path: path.to_owned(),
            reader,
            model,
            start,
            survey: Survey::begin(path.to_owned(), density),
            paused: false,
            speed: speed.clamp(*SPEEDS.start(), *SPEEDS.end()),
            begin_us,
            at_us: begin_us,
            goal: None,
            ended: false,
        })
    }

    /// Where the recording comes from.
    pub const fn header(&self) -> &Header {
        self.reader.header()
    }

    /// What the recording says up to the position.
    pub const fn model(&self) -> &Model {
        &self.model
    }

    /// Moves on by the time that has passed, or towards the place that was asked for; never for much longer than half a
    /// frame, so that at a speed beyond what the computer can read the position stays behind.
    ///
    /// # Errors
    /// When the medium cannot be read any further.
    pub fn go_on(&mut self, passed: Duration) -> Result<(), CaptureError> {
        if let Some(goal) = self.goal {
            return self.approach(goal);
        }
        if !self.paused && !self.ended {
            let further_us = passed.as_micros() as f64 * self.speed;
            self.read_until(self.at_us.saturating_add(further_us as u64))?;
        }
        Ok(())
    }

    /// Goes to a place as soon as the survey has been there.
    fn approach(&mut self, goal: Goal) -> Result<(), CaptureError> {
        let is_through = self.survey.is_through();
        let to_us = match goal {
            Goal::Time(t_us) => (is_through || t_us <= self.survey.read_us()).then_some(t_us),
            Goal::MarkAfter(t_us) => {
                let marks_us = self.survey.marks_us();
                let after = marks_us.into_iter().find(|mark_us| *mark_us > t_us);
                if after.is_none() && is_through {
                    self.goal = None;
                }
                after
            }
        };
        let Some(to_us) = to_us else {
            return Ok(());
        };
        let here_us = self.model.t_us();
        let on_the_way = here_us <= to_us;
        let nearer = self.survey.checkpoint(on_the_way.then_some(here_us), to_us);
        match nearer {
            Some(checkpoint) => self.go_on_from(checkpoint)?,
            None if on_the_way => {}
            None => self.go_on_from(self.start.clone())?,
        }
        if self.read_until(to_us)? {
            self.goal = None;
        }
        Ok(())
    }

    fn go_on_from(&mut self, checkpoint: Checkpoint) -> Result<(), CaptureError> {
        self.reader.go_to(&self.path, &checkpoint.place)?;
        self.model = checkpoint.model;
        self.ended = false;
        Ok(())
    }

    /// Takes the rows up to a time, as long as it does not take too long; whether it came there, or to the end.
    fn read_until(&mut self, until_us: u64) -> Result<bool, CaptureError> {
        let deadline = Instant::now() + LONGEST;
        loop {
            for _ in 0..ROWS_AT_ONCE {
                match self.reader.next_row_until(until_us)? {
                    Next::Row(row) => self.model.take(&row),
                    Next::Later(_) => {
                        self.at_us = until_us;
                        return Ok(true);
                    }
                    Next::End => {
                        self.at_us = self.model.t_us();
                        self.ended = true;
                        return Ok(true);
                    }
                }
            }
            if Instant::now() >= deadline {
                self.at_us = self.model.t_us();
                return Ok(false);
            }
        }
    }

    /// Stands still, or goes on; at the end, begins again.
    pub fn pause(&mut self) {
        if self.ended && self.goal.is_none() {
            self.paused = false;
            self.begin();
        } else {
            self.paused = !self.paused;
        }
    }

    /// Goes so many seconds back or on.
    pub fn go(&mut self, seconds: i64) {
        let from_us = match self.goal {
            Some(Goal::Time(u64::MAX)) => self.survey.read_us(),
            Some(Goal::Time(t_us)) => t_us,
            Some(Goal::MarkAfter(_)) | None => self.at_us,
        };
        let to_us = from_us.saturating_add_signed(seconds.saturating_mul(1_000_000));
        self.go_to(to_us);
    }

    /// Goes so many seconds back or on and stands still there.
    pub fn step(&mut self, seconds: i64) {
        self.paused = true;
        self.go(seconds);
    }

    /// Goes to a time, µs since the recording started; one before or after the recording is its beginning or end.
    pub fn go_to(&mut self, t_us: u64) {
        let last_us = self.length_us().unwrap_or(u64::MAX);
        self.goal = Some(Goal::Time(t_us.min(last_us).max(self.begin_us)));
    }

    /// Goes so many µs beyond the first row.
    pub fn go_from_begin(&mut self, further_us: u64) {
        self.go_to(self.begin_us.saturating_add(further_us));
    }

    /// Goes to the beginning.
    pub fn begin(&mut self) {
        self.go_to(self.begin_us);
    }

    /// Goes to the end.
    pub fn end(&mut self) {
        self.goal = Some(Goal::Time(u64::MAX));
    }

    /// Goes to the mark before, without one to the beginning.
    pub fn previous_mark(&mut self) {
        let lenience_us = if self.paused || self.ended {
            0
        } else {
            (LENIENCE_US as f64 * self.speed.max(1.0)) as u64
        };
        let before_us = self.at_us.saturating_sub(lenience_us);
        let marks_us = self.survey.marks_us();
        let before = marks_us.into_iter().rfind(|mark_us| *mark_us < before_us);
        self.go_to(before.unwrap_or(self.begin_us));
    }

    /// Goes to the mark after, if there is one.
    pub fn next_mark(&mut self) {
        self.goal = Some(Goal::MarkAfter(self.at_us));
    }

    /// Twice as fast, or half as fast.
    pub fn speed_up(&mut self, by: f64) {
        self.speed = (self.speed * by).clamp(*SPEEDS.start(), *SPEEDS.end());
    }

    /// Time of the last row, µs; once it is known.
    fn length_us(&self) -> Option<u64> {
        // of a capture that is still being written, playing may have read more by now
        let known = self.ended || self.survey.is_through();
        known.then(|| self.survey.read_us().max(self.at_us))
    }

    /// How the screen shows it.
    pub fn shown(&self) -> scene::Playback {
        scene::Playback {
            begin_us: self.begin_us,
            at_us: self.at_us,
            read_us: self.survey.read_us().max(self.at_us),
            length_us: self.length_us(),
            speed: self.speed,
            paused: self.paused,
            ended: self.ended,
            marks_us: self.survey.marks_us(),
            seeking: self.goal.is_some(),
        }
    }
}

#[cfg(test)]
mod tests;
