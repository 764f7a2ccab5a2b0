//! One block of a capture turned into facts: the work that any core can do, whatever came before the block.

use pintle_protocol::Item;

use super::{
    block::record_length,
    decode::{Content, Note, decode_data, decode_row},
    fast::{HexBuffer, data_row},
    reader::{outline_of, without_line_end},
    row::Row,
    times::Times,
};
use crate::observation::Observation;

/// Number for controllers beyond the 255th: they are distinguished from the others, not from each other.
const LAST_SOURCE: usize = 255;

/// A reading and which of the batch's controllers gave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tagged {
    pub t_us: u64,
    pub value: f64,
    pub item: Item,
    pub source: u8,
}

impl Tagged {
    /// Without the controller.
    pub const fn observation(&self) -> Observation {
        Observation {
            t_us: self.t_us,
            item: self.item,
            value: self.value,
        }
    }
}

/// What a block holds, in its order.
#[derive(Debug, Clone)]
pub(super) struct Batch {
    /// The block's bytes.
    pub text: Vec<u8>,
    pub readings: Vec<Tagged>,
    /// Other facts, each with the number of readings before it and the controller's number.
    pub notes: Vec<(usize, u8, Note)>,
    /// Addresses of the controllers, as printed on the bus.
    pub sources: Vec<Vec<u8>>,
    /// Bad lines by number inside the block, counted from 0.
    pub bad: Vec<(u64, &'static str)>,
    pub lines: u64,
    /// Time of the first row, if there is one.
    pub first_us: Option<u64>,
    /// The order of times after the last row.
    pub times: Times,
    plain: String,
    buffers: [HexBuffer; 2],
}

impl Batch {
    pub fn new() -> Self {
        Self {
            text: Vec::new(),
            readings: Vec::new(),
            notes: Vec::new(),
            sources: Vec::new(),
            bad: Vec::new(),
            lines: 0,
            first_us: None,
            times: Times::from_anywhere(),
            plain: String::new(),
            buffers: [const { HexBuffer::new() }; 2],
        }
    }

    /// Forgets all facts; the text stays.
    pub fn clear(&mut self) {
        self.readings.clear();
        self.notes.clear();
        self.sources.clear();
        self.bad.clear();
        self.lines = 0;
        self.first_us = None;
        self.times = Times::from_anywhere();
    }

    /// Turns the block's text into facts, given the order of times before it.
    pub fn decode(&mut self, before: Times) {
        self.clear();
        self.times = before;
        let text = std::mem::take(&mut self.text);
        let mut rest = text.as_slice();
        while !rest.is_empty() {
            rest = self.decode_record(rest);
        }
        self.text = text;
    }

    /// Decodes the record at the start of `rest` and gives what follows it.
    #[inline]
    fn decode_record<'a>(&mut self, rest: &'a [u8]) -> &'a [u8] {
        let line_end = memchr::memchr(b'\n', rest).unwrap_or(rest.len());
        if let Some((line, after)) = rest.split_at_checked(line_end)
            && self.decode_fast(line.strip_suffix(b"\r").unwrap_or(line))
        {
            self.lines += 1;
            return after.get(1..).unwrap_or_default();
        }
        let length = record_length(rest, true).unwrap_or(rest.len());
        let (record, after) = rest.split_at_checked(length).unwrap_or((rest, &[]));
        self.decode_general(record);
        after
    }

    /// Decodes a plain `data` row; false when the line is something else or something is odd about it.
    #[inline]
    fn decode_fast(&mut self, line: &[u8]) -> bool {
        let Some(row) = data_row(line) else {
            return false;
        };
        let [one, two] = &mut self.buffers;
        let (Some(request), Some(response)) = (one.decode(row.request), two.decode(row.response))
        else {
            return false;
        };
        if let Err(problem) = self.times.check(row.t_us) {
            self.bad.push((self.lines, problem));
            return true;
        }
        self.first_us.get_or_insert(row.t_us);
        let source = source_number(&mut self.sources, row.ecu);
        let readings = &mut self.readings;
        let content = decode_data(request, response, |item, value| {
            readings.push(Tagged {
                t_us: row.t_us,
                value,
                item,
                source,
            });
        });
        self.note(row.t_us, source, content);
        true
    }

    /// Keeps what a row said beside its numbers, at its place among them.
    fn note(&mut self, t_us: u64, source: u8, content: Option<Content>) {
        if let Some(content) = content {
            let note = Note { t_us, content };
            self.notes.push((self.readings.len(), source, note));
        }
    }

    fn decode_general(&mut self, record: &[u8]) {
        let line = self.lines;
        self.lines += memchr::memchr_iter(b'\n', record).count() as u64;
        let mut plain = std::mem::take(&mut self.plain);
        let problem = match outline_of(record, &mut plain) {
            None => Ok(()),
            Some(Err(problem)) => Err(problem),
            Some(Ok(found)) => match std::str::from_utf8(record) {
                _ if found.quoted => self.take_row(&found.outline.row(&plain)),
                Ok(text) => self.take_row(&found.outline.row(without_line_end(text))),
                Err(_) => Err("not text"),
            },
        };
        self.plain = plain;
        if let Err(problem) = problem {
            self.bad.push((line, problem));
        }
    }

    /// Decodes a row that was read elsewhere.
    pub fn take_row(&mut self, row: &Row<'_>) -> Result<(), &'static str> {
        self.times.check(row.t_us)?;
        self.first_us.get_or_insert(row.t_us);
        let source = source_number(&mut self.sources, row.ecu.as_bytes());
        let readings = &mut self.readings;
        let content = decode_row(row, |item, value| {
            readings.push(Tagged {
                t_us: row.t_us,
                value,
                item,
                source,
            });
        });
        self.note(row.t_us, source, content);
        Ok(())
    }
}

#[inline]
fn source_number(sources: &mut Vec<Vec<u8>>, ecu: &[u8]) -> u8 {
    let known = sources.iter().position(|source| source == ecu);
    let number = known.unwrap_or_else(|| {
        if sources.len() < LAST_SOURCE {
            sources.push(ecu.to_vec());
        }
        sources.len() - 1
    });
    number as u8
}
