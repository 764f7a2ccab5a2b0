//! What a capture says, as far as it is about the engine.

use pintle_protocol::service::Answer;

use super::{
    batch::Batch,
    decode::{Content, Note},
    engine::EngineController,
    header::Header,
    row::Row,
};
use crate::observation::Observation;

/// Something that a capture says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fact<'a> {
    /// A number of the engine controller, or of another logger.
    Reading(Observation),
    /// An answer of the engine controller that holds no number: codes, freeze frame, vehicle identification.
    Answer {
        /// When, µs.
        t_us: u64,
        /// What it says.
        answer: &'a Answer,
    },
    /// A remark.
    Mark {
        /// When, µs.
        t_us: u64,
        /// What.
        text: &'a str,
    },
    /// A state of the link.
    Link {
        /// When, µs.
        t_us: u64,
        /// What.
        text: &'a str,
    },
}

/// Turns rows into facts one by one, as they come from the car.
#[derive(Debug, Clone)]
pub struct Decoder {
    engine: EngineController,
    batch: Batch,
}

impl Decoder {
    /// A decoder for the capture with this header.
    pub fn new(header: &Header) -> Self {
        Self {
            engine: EngineController::of(header),
            batch: Batch::new(),
        }
    }

    /// Hands every fact of a row to `take`. Rows come in the order of their times.
    pub fn row(&mut self, row: &Row<'_>, mut take: impl FnMut(Fact<'_>)) {
        self.batch.clear();
        // From anywhere, every time is accepted.
        if self.batch.take_row(row).is_ok() {
            hand_on(&self.batch, &mut self.engine, &mut take);
        }
    }
}

/// Hands on what a batch holds, as far as it is about the engine.
pub(super) fn hand_on(
    batch: &Batch,
    engine: &mut EngineController,
    take: &mut impl FnMut(Fact<'_>),
) {
    let mut from = 0;
    for (until, source, note) in &batch.notes {
        hand_on_readings(batch, from..*until, engine, take);
        from = *until;
        let address = batch
            .sources
            .get(usize::from(*source))
            .map_or(&[][..], Vec::as_slice);
        hand_on_note(note, engine.is_engine(address), take);
    }
    hand_on_readings(batch, from..batch.readings.len(), engine, take);
}

fn hand_on_readings(
    batch: &Batch,
    range: std::ops::Range<usize>,
    engine: &mut EngineController,
    take: &mut impl FnMut(Fact<'_>),
) {
    let address = |source: u8| {
        batch
            .sources
            .get(usize::from(source))
            .map_or(&[][..], Vec::as_slice)
    };
    let mut readings = batch.readings.get(range).unwrap_or_default().iter();
    while !engine.is_settled()
        && let Some(reading) = readings.next()
    {
        if engine.counts(address(reading.source), reading.item) {
            take(Fact::Reading(reading.observation()));
        }
    }
    let mut counts = [false; 256];
    for (counts, source) in counts.iter_mut().zip(&batch.sources) {
        *counts = engine.is_engine(source);
    }
    for reading in readings {
        if counts
            .get(usize::from(reading.source))
            .copied()
            .unwrap_or(false)
        {
            take(Fact::Reading(reading.observation()));
        }
    }
}

fn hand_on_note(note: &Note, of_engine: bool, take: &mut impl FnMut(Fact<'_>)) {
    let t_us = note.t_us;
    match &note.content {
        Content::Mark(text) => take(Fact::Mark { t_us, text }),
        Content::Link(text) => take(Fact::Link { t_us, text }),
        Content::Answer(answer) if of_engine => take(Fact::Answer { t_us, answer }),
        Content::Answer(_) => {}
    }
}
