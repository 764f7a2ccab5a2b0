//! How good the link is: answers and bytes a second against what the wire and the controllers allow.

use pintle_protocol::dialogue::Counts;

/// Bits on a serial line for each byte: start, eight data, stop.
const BITS_A_BYTE: f64 = 10.0;

/// A measurement of the link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quality {
    /// How long was measured, in seconds.
    pub seconds: f64,
    /// Requests that were answered.
    pub answers: u64,
    /// Bytes over the line, both ways.
    pub bytes: u64,
    /// Time of an exchange that is not spent on the wire, in seconds: a tenth of the answers took less. Unknown where the
    /// line has no speed.
    pub answer_time_s: Option<f64>,
    /// Answers a second if nothing were lost besides wire and answer time; unknown where the line has no speed.
    pub limit_per_s: Option<f64>,
    /// What went wrong during the measurement.
    pub counts: Counts,
}

impl Quality {
    /// Answers a second.
    pub fn answers_per_s(&self) -> f64 {
        per_second(self.answers, self.seconds)
    }

    /// Bytes a second.
    pub fn bytes_per_s(&self) -> f64 {
        per_second(self.bytes, self.seconds)
    }

    /// Answers a second as a part of the limit, 0 to 1.
    pub fn part_of_limit(&self) -> Option<f64> {
        self.limit_per_s.map(|limit| self.answers_per_s() / limit)
    }

    /// Everything that went wrong, as one number.
    pub const fn errors(&self) -> u64 {
        let counts = self.counts;
        counts.no_answers + counts.damaged + counts.strays + counts.restarts
    }
}

fn per_second(count: u64, seconds: f64) -> f64 {
    if seconds > 0.0 {
        count as f64 / seconds
    } else {
        0.0
    }
}

/// Takes the measure, exchange by exchange.
#[derive(Debug)]
pub(super) struct Meter {
    /// Seconds that a byte takes on the wire.
    byte_s: Option<f64>,
    bytes: u64,
    /// Of each exchange, what was not spent on the wire, in seconds.
    waits_s: Vec<f64>,
}

impl Meter {
    /// A meter for a line of this speed.
    pub fn new(baud: Option<u32>) -> Self {
        Self {
            byte_s: baud.map(|baud| BITS_A_BYTE / f64::from(baud.max(1))),
            bytes: 0,
            waits_s: Vec::new(),
        }
    }

    /// Adds an answered request with the bytes it took.
    pub fn add(&mut self, took_us: u64, bytes: u64) {
        let wire_s = bytes as f64 * self.byte_s.unwrap_or(0.0);
        self.bytes += bytes;
        self.waits_s.push((took_us as f64 / 1e6 - wire_s).max(0.0));
    }

    /// The outcome after so many seconds.
    pub fn finish(mut self, seconds: f64, counts: Counts) -> Quality {
        self.waits_s.sort_unstable_by(f64::total_cmp);
        let answers = self.waits_s.len();
        let tenth = self.waits_s.get(answers / 10).copied();
        let known = tenth.zip(self.byte_s);
        let limit_per_s = known.map(|(wait_s, byte_s)| {
            let each_s = self.bytes as f64 * byte_s / answers as f64 + wait_s;
            1.0 / each_s
        });
        Quality {
            seconds,
            answers: answers as u64,
            bytes: self.bytes,
            answer_time_s: known.map(|(wait_s, _)| wait_s),
            limit_per_s: limit_per_s.filter(|limit| limit.is_finite()),
            counts,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // 38 400 baud carry 3840 bytes a second: 48 bytes take 12.5 ms. With 7.5 ms for the answer 50 a second would fit.
    #[test]
    fn the_limit_is_what_wire_and_answer_time_leave() {
        let mut meter = Meter::new(Some(38_400));
        for _ in 0..80 {
            meter.add(20_000, 48);
        }
        let quality = meter.finish(2.0, Counts::default());
        assert!((quality.limit_per_s.unwrap() - 50.0).abs() < 1e-6);
        assert!((quality.answer_time_s.unwrap() - 0.0075).abs() < 1e-9);
        assert!((quality.answers_per_s() - 40.0).abs() < 1e-9);
        assert!((quality.bytes_per_s() - 1920.0).abs() < 1e-9);
        assert!((quality.part_of_limit().unwrap() - 0.8).abs() < 1e-9);
    }

    #[test]
    fn without_answers_or_speed_there_is_no_limit() {
        let none = Meter::new(Some(38_400)).finish(2.0, Counts::default());
        assert_eq!((none.limit_per_s, none.answer_time_s), (None, None));
        let mut meter = Meter::new(None);
        meter.add(10_000, 48);
        assert_eq!(meter.finish(0.0, Counts::default()).part_of_limit(), None);
    }
}
