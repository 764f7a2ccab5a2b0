//! What a recording says so far, for the screen: the same series as `diagnose` builds, taken in row by row.
//!
//! Memory does not grow with the recording. The same model is fed by a car and by a capture that is replayed; a copy of
//! it is a place to come back to.

use super::{history::History, journal::Journal};
use crate::{
    capture::{Decoder, Fact, Header, Row},
    guide::Run,
    series::{Builder, summary::Summary, timeline::course::Running},
};

/// What the recording says so far.
#[derive(Debug, Clone)]
pub struct Model {
    decoder: Decoder,
    builder: Builder,
    history: History,
    journal: Journal,
    run: Run,
    t_us: u64,
    /// Raised by every second that is judged, and by every fact that is no number.
    version: u64,
}

impl Model {
    /// Nothing said yet; the capture has this header, and is to be compared with what was driven `before`, if anything.
    pub fn new(header: &Header, before: &[Summary]) -> Self {
        let mut builder = Builder::keeping_course();
        builder.push_header(header);
        Self {
            decoder: Decoder::new(header),
            builder,
            history: History::default(),
            journal: Journal::default(),
            run: Run::new(before),
            t_us: 0,
            version: 0,
        }
    }

    /// Takes the next row; rows come in the order of their times.
    pub fn take(&mut self, row: &Row<'_>) {
        self.t_us = self.t_us.max(row.t_us);
        let (builder, journal, version) = (&mut self.builder, &mut self.journal, &mut self.version);
        self.decoder.row(row, |fact| {
            builder.take(&fact);
            journal.take(&fact);
            *version += u64::from(!matches!(fact, Fact::Reading(_)));
        });
        let running = self.builder.running();
        for second in self.builder.drain_course() {
            self.run.advance(&second, &running);
            self.history.take(second);
            self.version += 1;
        }
    }

    /// Puts a remark of the program among the marks on the screen, at the time reached.
    pub fn remark(&mut self, text: &str) {
        let t_us = self.t_us;
        self.journal.take(&Fact::Mark { t_us, text });
    }

    /// Time of the latest row, µs since the recording started.
    pub const fn t_us(&self) -> u64 {
        self.t_us
    }

    /// Another number whenever [`Model::summary`] may have changed.
    pub const fn version(&self) -> u64 {
        self.version
    }

    /// How the engine runs now.
    pub fn running(&self) -> Running {
        self.builder.running()
    }

    /// The last minutes.
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The last marks and states of the link.
    pub const fn journal(&self) -> &Journal {
        &self.journal
    }

    /// What has been driven of what a sound answer needs.
    pub const fn run(&self) -> &Run {
        &self.run
    }

    /// The same, to go to another step of it.
    pub const fn run_mut(&mut self) -> &mut Run {
        &mut self.run
    }

    /// What the rows so far amount to; the last three seconds or so are not in it yet.
    pub fn summary(&self) -> Summary {
        self.builder.snapshot()
    }

    /// What they amount to if nothing follows: what `diagnose` makes of the capture.
    pub fn whole(&self) -> Summary {
        self.builder.clone().finish()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{
        capture::{Kind, Observations, Reader},
        live::sample::{capture, row},
    };

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn at_the_end_the_screen_judges_the_summary_that_diagnose_judges(
            rows in prop::collection::vec(row(), 1..1500),
        ) {
            let file = capture(&rows);
            let mut reader = Reader::open(file.path()).unwrap();
            let mut model = Model::new(reader.header(), &[]);
            while let Some(row) = reader.next_row().unwrap() {
                model.take(&row);
            }
            let mut batch = Builder::new();
            let observations = Observations::open(file.path()).unwrap();
            observations.for_each(|fact| batch.take(&fact)).unwrap();
            // what is judged of it is a function of the summary alone
            prop_assert_eq!(model.whole(), batch.finish());
        }

        #[test]
        fn the_model_does_not_grow_with_the_recording(rows in prop::collection::vec(row(), 1..300)) {
            let mut model = Model::new(&Header::default(), &[]);
            for second in 0..4_000_u64 {
                let (_, text) = &rows[second as usize % rows.len()];
                let mut parts = text.splitn(4, ',');
                let mut part = || parts.next().unwrap_or_default();
                let kind = match part() {
                    "data" => Kind::Data,
                    "mark" => Kind::Mark,
                    "link" => Kind::Link,
                    _ => continue,
                };
                let (ecu, request, response) = (part(), part(), part());
                model.take(&Row { t_us: second * 1_000_000, kind, ecu, request, response });
            }
            prop_assert_eq!(model.builder.drain_course().count(), 0);
            prop_assert!(model.history.since(0).count() <= 1 + crate::live::history::KEPT_S as usize);
            prop_assert!(model.journal.entries().len() <= 200);
        }
    }
}
