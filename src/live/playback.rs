//! A capture as if it were recorded now: position, speed, standing still.

use std::{path::Path, time::Instant};

use super::{model::Model, scene};
use crate::capture::{CaptureError, Header, Reader};

/// A capture being played.
pub struct Playback {
    reader: Reader,
    model: Model,
    paused: bool,
    speed: f64,
    /// When the position was last moved on.
    moved: Instant,
    /// Position, µs since the recording started.
    at_us: u64,
    length_us: Option<u64>,
}

impl Playback {
    /// Opens a capture; nothing is played yet.
    ///
    /// # Errors
    /// When there is no file, or it does not begin as a capture does.
    pub fn open(path: &Path, speed: f64) -> Result<Self, CaptureError> {
        let reader = Reader::open(path)?;
        Ok(Self {
            model: Model::new(reader.header(), &[]),
            reader,
            paused: false,
            speed,
            moved: Instant::now(),
            at_us: 0,
            length_us: None,
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

    /// Moves on by the time that has passed; whether there is something new to draw.
    ///
    /// # Errors
    /// When the medium cannot be read any further.
    pub fn go_on(&mut self) -> Result<bool, CaptureError> {
        let passed = self.moved.elapsed();
        self.moved = Instant::now();
        if self.paused || self.length_us.is_some() {
            return Ok(false);
        }
        self.at_us += (passed.as_micros() as f64 * self.speed) as u64;
        while self.model.t_us() < self.at_us {
            match self.reader.next_row()? {
                Some(row) => self.model.take(&row),
                None => {
                    self.length_us = Some(self.model.t_us());
                    self.at_us = self.model.t_us();
                }
            }
        }
        Ok(true)
    }

    /// Stands still, or goes on.
    pub fn pause(&mut self) {
        self.paused = !self.paused;
    }

    /// How the screen shows it.
    pub fn shown(&self) -> scene::Playback {
        scene::Playback {
            at_us: self.at_us,
            length_us: self.length_us,
            speed: self.speed,
            paused: self.paused,
            marks_us: Vec::new(),
            seeking: false,
        }
    }
}
