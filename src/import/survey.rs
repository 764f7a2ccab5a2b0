//! The first look at a table's rows: how they are timed, and whether values are repeated.

use pintle_protocol::Pid;

use super::{
    column_map::TimeUnit,
    error::ImportError,
    number::Field,
    plan::{Layout, Plan, TimeSource},
    repeats::{ChangeIntervals, rows_held},
    table::Table,
    timing::{RunTimeTicks, Timing, instant_of},
};

/// Result of the first look at the rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Survey {
    pub timing: Timing,
    /// How the rows are timed, in words.
    pub timing_words: String,
    /// Number of rows for which a value is held; `None` when all are new.
    pub rows_held: Option<f64>,
}

/// Median step of a time column without unit, up to which its numbers can only be seconds: nobody asks a controller
/// oftener than every few milliseconds.
const LONGEST_STEP_IN_SECONDS: f64 = 5.0;

/// Number of times of a column kept to judge its steps (assumed).
const TIMES_KEPT: usize = 4096;

/// Looks at every row once.
///
/// # Errors
/// When no row holds a reading, or nothing says when the rows were.
pub(super) fn survey(mut table: Table, plan: &Plan) -> Result<Survey, ImportError> {
    let speed = plan.slot_of(Pid::ENGINE_SPEED);
    let run_time = plan.slot_of(Pid::RUN_TIME);
    let mut intervals = vec![ChangeIntervals::new(); plan.slots.len()];
    let mut ticks = RunTimeTicks::default();
    let mut times: Vec<String> = Vec::new();
    let mut readings = 0_u64;
    let mut running = speed.is_none();
    while let Some(row) = table.next_row()? {
        if let TimeSource::Column { index, unit: None } = plan.time
            && times.len() < TIMES_KEPT
        {
            times.extend(row.get(index).map(str::to_owned));
        }
        plan.layout.for_each_field(&row, |slot, text| {
            let Some(number) = Field::of(text, table.delimiter).number() else {
                return;
            };
            readings += 1;
            if speed == Some(slot) {
                running = number > 0.0;
            }
            if run_time == Some(slot) {
                ticks.push(number);
            }
            if let Some(column) = intervals.get_mut(slot) {
                column.push(number, running);
            }
        });
    }
    if readings == 0 {
        return Err(ImportError::NoReadings);
    }
    let (timing, timing_words) = timing(&table, plan, &times, &ticks)?;
    let rows_held = match plan.layout {
        Layout::Wide(_) => rows_held(&intervals),
        // In a long table a row is written because something was read.
        Layout::Long { .. } => None,
    };
    Ok(Survey {
        timing,
        timing_words,
        rows_held,
    })
}

fn timing(
    table: &Table,
    plan: &Plan,
    times: &[String],
    ticks: &RunTimeTicks,
) -> Result<(Timing, String), ImportError> {
    let by_column = |index: usize, unit: TimeUnit, words: String| {
        let delimiter = table.delimiter;
        Ok((
            Timing::Column {
                index,
                unit,
                delimiter,
            },
            words,
        ))
    };
    match plan.time {
        TimeSource::Rate(rate) => {
            let timing = Timing::Rate {
                seconds_per_row: 1.0 / rate,
            };
            Ok((timing, format!("{rate} rows/s, from the column map")))
        }
        TimeSource::Column { index, unit } => {
            let header = table.headers.get(index).cloned().unwrap_or_default();
            match (unit, unit_by_values(times, table.delimiter)) {
                (Some(unit), _) => by_column(index, unit, format!("from the column {header:?}")),
                (None, Some((unit, words))) => {
                    by_column(index, unit, format!("from the column {header:?}, {words}"))
                }
                (None, None) => Err(ImportError::TimeUnit(header)),
            }
        }
        TimeSource::Unsaid => {
            let slot = plan.slot_of(Pid::RUN_TIME).ok_or(ImportError::NoTime)?;
            let seconds_per_row = ticks.seconds_per_row().ok_or(ImportError::NoTime)?;
            let words = format!(
                "{:.2} rows/s, from the run time column",
                1.0 / seconds_per_row
            );
            Ok((
                Timing::RunTime {
                    slot,
                    seconds_per_row,
                },
                words,
            ))
        }
    }
}

/// The unit of a time column by what stands in it.
fn unit_by_values(times: &[String], delimiter: u8) -> Option<(TimeUnit, &'static str)> {
    if times.first().is_some_and(|text| instant_of(text).is_some()) {
        return Some((TimeUnit::Rfc3339, "dates and times"));
    }
    let numbers: Vec<f64> = times
        .iter()
        .filter_map(|text| Field::of(text, delimiter).number())
        .collect();
    let mut steps: Vec<f64> = numbers
        .windows(2)
        .filter_map(|pair| Some(pair.get(1)? - pair.first()?))
        .collect();
    steps.sort_by(f64::total_cmp);
    let median = *steps.get(steps.len() / 2)?;
    (median > 0.0 && median <= LONGEST_STEP_IN_SECONDS)
        .then_some((TimeUnit::Second, "taken as seconds, judging by its steps"))
}
