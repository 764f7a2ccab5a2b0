//! When the rows of a table were written: by a time column, by a stated rate, or by the engine's run time.

use std::{collections::BTreeMap, str::FromStr};

use csv::StringRecord;
use jiff::{Timestamp, civil::DateTime, tz::TimeZone};

use super::{column_map::TimeUnit, number::Field};

/// How rows get their times.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Timing {
    /// By a column.
    Column {
        index: usize,
        unit: TimeUnit,
        delimiter: u8,
    },
    /// By a fixed rate.
    Rate { seconds_per_row: f64 },
    /// By the engine's run time, which shows the rate and where rows are missing.
    RunTime { slot: usize, seconds_per_row: f64 },
}

/// Difference between run time and row count that jitter of reading and rounding explains, seconds.
const JITTER_S: f64 = 1.5;

/// Smallest number of changes of the run time from which a rate is concluded (assumed).
const FEWEST_TICKS: u32 = 20;

/// How the run time moved against the rows: seconds gained over rows passed, counted.
#[derive(Debug, Clone, Default)]
pub(super) struct RunTimeTicks {
    last: Option<f64>,
    rows: u32,
    ticks: BTreeMap<(u32, u32), u32>,
}

/// One forward move of the run time.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tick {
    rows: u32,
    seconds: f64,
}

impl RunTimeTicks {
    /// Takes the run time of the next row.
    pub fn push(&mut self, run_time: f64) {
        if let Some(tick) = self.tick(run_time)
            && tick.seconds <= 60.0
        {
            *self
                .ticks
                .entry((tick.rows, tick.seconds as u32))
                .or_default() += 1;
        }
    }

    /// The forward move that this run time ends, if it does; a standing or restarted engine gives none.
    fn tick(&mut self, run_time: f64) -> Option<Tick> {
        self.rows += 1;
        let last = self.last.replace(run_time)?;
        if run_time == last {
            return None;
        }
        let rows = std::mem::take(&mut self.rows);
        let moved = last > 0.0 && run_time > last;
        moved.then_some(Tick {
            rows,
            seconds: run_time - last,
        })
    }

    /// Seconds from row to row, where the run time moved as rows came; `None` when too little is known.
    pub fn seconds_per_row(&self) -> Option<f64> {
        let mut rate = self.mean_where(|_, _| true)?;
        for _ in 0..5 {
            rate = self.mean_where(|rows, seconds| (seconds - rows * rate).abs() <= JITTER_S)?;
        }
        (0.001..=60.0).contains(&rate).then_some(rate)
    }

    fn mean_where(&self, counts: impl Fn(f64, f64) -> bool) -> Option<f64> {
        let (mut all_rows, mut all_seconds, mut number) = (0.0, 0.0, 0);
        for ((rows, seconds), times) in &self.ticks {
            let (rows, seconds) = (f64::from(*rows), f64::from(*seconds));
            if counts(rows, seconds) {
                all_rows += rows * f64::from(*times);
                all_seconds += seconds * f64::from(*times);
                number += times;
            }
        }
        (number >= FEWEST_TICKS).then_some(all_seconds / all_rows)
    }
}

/// Gives row after row its time.
#[derive(Debug, Clone)]
pub(super) struct RowClock {
    timing: Timing,
    first_us: Option<i128>,
    next_s: f64,
    ticks: RunTimeTicks,
    /// Pauses found in the run time.
    pub gaps: u32,
    /// When the first row was, where the table says it.
    pub started: Option<Timestamp>,
}

impl RowClock {
    pub fn new(timing: Timing) -> Self {
        Self {
            timing,
            first_us: None,
            next_s: 0.0,
            ticks: RunTimeTicks::default(),
            gaps: 0,
            started: None,
        }
    }

    /// The row's time in microseconds since the first row; `None` when it cannot be read. `number` gives a slot's number.
    pub fn time_of(
        &mut self,
        row: &StringRecord,
        number: impl Fn(usize) -> Option<f64>,
    ) -> Option<u64> {
        match self.timing {
            Timing::Column {
                index,
                unit,
                delimiter,
            } => {
                let (us, started) = stamp(row.get(index)?, unit, delimiter)?;
                let first = *self.first_us.get_or_insert_with(|| {
                    self.started = started;
                    us
                });
                // a clock that was set back stands still; a time that no clock reaches is none
                u64::try_from(us.saturating_sub(first).max(0)).ok()
            }
            Timing::Rate { seconds_per_row } => Some(self.step(seconds_per_row)),
            Timing::RunTime {
                slot,
                seconds_per_row,
            } => {
                if let Some(tick) = number(slot).and_then(|run_time| self.ticks.tick(run_time)) {
                    let missing = tick.seconds - f64::from(tick.rows) * seconds_per_row;
                    if missing > JITTER_S {
                        self.gaps += 1;
                        self.next_s += missing;
                    }
                }
                Some(self.step(seconds_per_row))
            }
        }
    }

    fn step(&mut self, seconds: f64) -> u64 {
        let now = self.next_s;
        self.next_s += seconds;
        (now * 1e6).round() as u64
    }
}

/// A time as written: microseconds since wherever, and the instant where it is one.
fn stamp(text: &str, unit: TimeUnit, delimiter: u8) -> Option<(i128, Option<Timestamp>)> {
    let scale = match unit {
        TimeUnit::Rfc3339 => {
            let instant = instant_of(text)?;
            return Some((i128::from(instant.as_microsecond()), Some(instant)));
        }
        TimeUnit::Second => 1e6,
        TimeUnit::Millisecond => 1e3,
        TimeUnit::Microsecond => 1.0,
    };
    let number = Field::of(text, delimiter).number()?;
    Some(((number * scale).round() as i128, None))
}

/// Reads a date and time; without a zone it is taken as universal time, only differences matter.
pub(super) fn instant_of(text: &str) -> Option<Timestamp> {
    Timestamp::from_str(text).ok().or_else(|| {
        let local = DateTime::from_str(text).ok()?;
        local
            .to_zoned(TimeZone::UTC)
            .ok()
            .map(|zoned| zoned.timestamp())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Run time as read once in `every` rows of half a second, with a gap and a restart.
    fn run_times() -> Vec<f64> {
        let mut times: Vec<f64> = vec![0.0; 10];
        times.extend((0..400).map(|row| f64::from(row / 4 * 4) * 0.5));
        times.extend((0..400).map(|row| 230.0 + f64::from(row / 4 * 4) * 0.5));
        times.extend((0..400).map(|row| f64::from(row / 4 * 4) * 0.5));
        times
    }

    #[test]
    fn the_rate_is_found_in_the_run_time_through_gap_and_restart() {
        let mut ticks = RunTimeTicks::default();
        for time in run_times() {
            ticks.push(time);
        }
        let rate = ticks.seconds_per_row().unwrap();
        assert!((rate - 0.5).abs() < 0.01, "{rate}");
    }

    #[test]
    fn rows_lost_in_a_gap_are_missing_time() {
        let timing = Timing::RunTime {
            slot: 0,
            seconds_per_row: 0.5,
        };
        let mut clock = RowClock::new(timing);
        let row = StringRecord::new();
        let last = run_times()
            .into_iter()
            .map(|time| clock.time_of(&row, |_| Some(time)))
            .last();
        assert_eq!(clock.gaps, 1);
        // 1209 rows of half a second, and the 30 s between 200 and 230.
        let expected = 1209.0 * 0.5 + 30.0;
        let found = last.flatten().unwrap() as f64 / 1e6;
        assert!((found - expected).abs() <= 2.0, "{found} for {expected}");
    }

    #[test]
    fn times_are_read_in_every_unit() {
        for (text, unit, us) in [
            ("1.5", TimeUnit::Second, 1_500_000),
            ("1,5", TimeUnit::Second, 1_500_000),
            ("250", TimeUnit::Millisecond, 250_000),
            ("7", TimeUnit::Microsecond, 7),
            ("1970-01-01T00:00:02.5Z", TimeUnit::Rfc3339, 2_500_000),
            ("1970-01-01 00:00:02.5", TimeUnit::Rfc3339, 2_500_000),
        ] {
            assert_eq!(
                stamp(text, unit, b';').map(|found| found.0),
                Some(us),
                "{text}"
            );
        }
        assert_eq!(stamp("soon", TimeUnit::Second, b','), None);
    }
}
