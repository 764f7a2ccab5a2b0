//! What a recording says so far, for the screen: the same series as `diagnose` builds, taken in row by row.
//!
//! Memory does not grow with the recording. The same model is fed by a car and by a capture that is replayed; a copy of
//! it is a place to come back to.

use super::{history::History, journal::Journal};
use crate::{
    capture::{Decoder, Fact, Header, Row},
    guide::Run,
    series::{Builder, course::Running, summary::Summary},
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
        if let Some(started) = header.started {
            builder.push_start(started);
        }
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
    use std::fmt::Write;

    use proptest::prelude::*;

    use super::*;
    use crate::capture::{Kind, Observations, Reader};

    /// One row of a recording by chance: seldom damaged, sometimes after a long silence.
    fn row() -> impl Strategy<Value = (u64, String)> {
        let byte = any::<u8>();
        let reading = prop_oneof![
            (60_u8..70).prop_map(|b| format!("data,7E8,0105,4105{b:02X}")),
            (0x02_u8..0x30, byte).prop_map(|(a, b)| format!("data,7E8,010C,410C{a:02X}{b:02X}")),
            (0x20_u8..0xC0).prop_map(|b| format!("data,7E8,0104,4104{b:02X}")),
            (0_u8..120).prop_map(|b| format!("data,7E8,010D,410D{b:02X}")),
            (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0106,4106{b:02X}")),
            (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0107,4107{b:02X}")),
            (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0108,4108{b:02X}")),
            (0_u8..3).prop_map(|b| format!("data,7E8,0103,4103{b:02X}00")),
            (0xA2_u8..0xA6, byte).prop_map(|(mid, count)| format!(
                "data,7E8,06{mid:02X},46{mid:02X}0C2400{count:02X}0000FFFF"
            )),
            Just("data,7E8,03,43010301".to_owned()),
            Just("data,7E9,0106,410690".to_owned()),
            Just("value,,010F,21.5".to_owned()),
            Just("mark,,,here".to_owned()),
            Just("link,,,lost".to_owned()),
            Just("garbage".to_owned()),
        ];
        let pause_us = prop_oneof![30 => 0_u64..400_000, 1 => 0_u64..60_000_000];
        (pause_us, reading)
    }

    fn capture(rows: &[(u64, String)]) -> tempfile::NamedTempFile {
        let mut text = "# capture 1\n# {}\nt_us,kind,ecu,request,response\n".to_owned();
        let mut t_us = 0;
        for (pause_us, row) in rows {
            t_us += pause_us;
            writeln!(text, "{t_us},{row}").unwrap();
        }
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        file
    }

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
            prop_assert!(model.builder.course().is_empty());
            prop_assert!(model.history.since(0).count() <= 1 + crate::live::history::KEPT_S as usize);
            prop_assert!(model.journal.entries().len() <= 200);
        }
    }
}
