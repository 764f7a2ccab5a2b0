//! What a recording writes down, and tells whoever watches it.

use pintle_protocol::dialogue::{Answer, NoAnswer};

use super::{disturbance::Disturbance, outage::Outages, rate::Rate, rows};
use crate::capture::{CaptureError, Kind, Row, Writer};

/// How a recording goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// Time since it began, µs.
    pub elapsed_us: u64,
    /// Requests answered so far.
    pub answers: u64,
    /// Answers a second, lately.
    pub answers_per_s: f64,
    /// What the link is in trouble with, and what to do, in a few words; `None` while answers come normally.
    pub trouble: Option<String>,
}

/// The capture being written, if there is one, and whoever watches it.
pub(super) struct RowSink<'a, T> {
    writer: Option<&'a mut Writer>,
    tell: T,
    began_us: u64,
    pub(super) progress: Progress,
    rate: Rate,
    pub(super) disturbance: Disturbance,
    outages: Outages,
}

impl<'a, T: FnMut(&Row<'_>, &Progress)> RowSink<'a, T> {
    pub(super) fn begin(writer: Option<&'a mut Writer>, tell: T, began_us: u64) -> Self {
        Self {
            writer,
            tell,
            began_us,
            progress: Progress {
                elapsed_us: 0,
                answers: 0,
                answers_per_s: 0.0,
                trouble: None,
            },
            rate: Rate::default(),
            disturbance: Disturbance::default(),
            outages: Outages::default(),
        }
    }

    pub(super) fn answer(&mut self, answer: &Answer) -> Result<(), CaptureError> {
        self.progress.answers += 1;
        self.rate.count(answer.answered_at_us);
        rows::of_answer(answer, |row| self.write(row))?;
        let row = self.outages.answered(answer.answered_at_us);
        self.restored_row(answer.answered_at_us, row)?;
        self.request_over(answer.answered_at_us)
    }

    /// Tells of disturbances once there are many: a trouble that needs no end.
    fn request_over(&mut self, at_us: u64) -> Result<(), CaptureError> {
        match self.disturbance.request_over(at_us) {
            Some(words) => self.remark(at_us, Kind::Link, &words),
            None => Ok(()),
        }
    }

    pub(super) fn no_answer(&mut self, no_answer: &NoAnswer) -> Result<(), CaptureError> {
        rows::of_no_answer(no_answer, |row| self.write(row))?;
        self.request_over(no_answer.ended_at_us)
    }

    pub(super) fn mark(&mut self, at_us: u64, words: &str) -> Result<(), CaptureError> {
        self.remark(at_us, Kind::Mark, words)
    }

    pub(super) fn trouble(&mut self, at_us: u64, words: &str) -> Result<(), CaptureError> {
        let row = self.outages.trouble(at_us, words);
        self.trouble_row(at_us, row)
    }

    /// The adapter is gone: what came before says nothing about the link that may come. Gives the wait before it is opened
    /// again, µs.
    pub(super) fn lost(&mut self, at_us: u64, words: &str) -> Result<u64, CaptureError> {
        self.rate = Rate::default();
        let row = self.outages.lost(at_us, words);
        self.trouble_row(at_us, row)?;
        Ok(self.outages.backoff_us())
    }

    pub(super) fn restored(&mut self, at_us: u64) -> Result<(), CaptureError> {
        let row = self.outages.restored(at_us);
        self.restored_row(at_us, row)
    }

    /// The last row. What is still to be said of the link comes before it.
    pub(super) fn end(&mut self, at_us: u64, words: &str) -> Result<(), CaptureError> {
        let row = self.outages.end(at_us);
        self.trouble_row(at_us, row)?;
        self.mark(at_us, words)
    }

    fn trouble_row(&mut self, at_us: u64, row: Option<String>) -> Result<(), CaptureError> {
        let Some(words) = row else { return Ok(()) };
        self.progress.trouble = Some(words.clone());
        self.remark(at_us, Kind::Link, &words)
    }

    fn restored_row(&mut self, at_us: u64, row: Option<String>) -> Result<(), CaptureError> {
        let Some(words) = row else { return Ok(()) };
        self.progress.trouble = None;
        self.remark(at_us, Kind::Link, &words)
    }

    fn remark(&mut self, at_us: u64, kind: Kind, words: &str) -> Result<(), CaptureError> {
        self.write(Row {
            t_us: at_us,
            kind,
            ecu: "",
            request: "",
            response: words,
        })
    }

    /// Writes a row whose time is the session's. A time before that of the row before is raised to it.
    fn write(&mut self, row: Row<'_>) -> Result<(), CaptureError> {
        let at_us = row.t_us;
        let t_us = at_us.saturating_sub(self.began_us);
        let row = Row {
            t_us: t_us.max(self.progress.elapsed_us),
            ..row
        };
        let mut news = None;
        if let Some(writer) = &mut self.writer {
            writer.write(&row)?;
            news = writer.take_news();
        }
        self.progress.elapsed_us = row.t_us;
        self.progress.answers_per_s = self.rate.per_second(at_us);
        (self.tell)(&row, &self.progress);
        match news {
            Some(words) => self.remark(at_us, Kind::Link, &words),
            None => Ok(()),
        }
    }
}
