//! A foreign table into a capture: once through to learn how it ticks, once through to write its readings.

use std::path::Path;

use csv::StringRecord;
use serde_json::json;

use super::{
    column_map::ColumnMap,
    error::ImportError,
    number::Field,
    outcome::{Matched, Outcome},
    plan::{Plan, Slot},
    repeats::NewReadings,
    survey::{Survey, survey},
    table::Table,
    timing::{RowClock, Timing},
};
use crate::{
    capture::{CaptureError, Header, Kind, Row, Writer},
    durable::NewFile,
    quantity,
    vehicle::Vehicle,
};

/// Turns the table at `source` into a new capture at `out`.
///
/// Without a map the columns are understood by their headers. `progress` receives from time to time the number of bytes
/// of the table that have been converted.
///
/// # Errors
/// When the table cannot be read or understood, or the capture cannot be written. An existing `out` is left as it is, and
/// there is none before it is whole.
pub fn import(
    source: &Path,
    map: Option<&ColumnMap>,
    vehicle: Option<Vehicle>,
    out: &Path,
    mut progress: impl FnMut(u64),
) -> Result<Outcome, ImportError> {
    let plan = Plan::of(&Table::open(source)?, map)?;
    let new = NewFile::create(out).map_err(CaptureError::creating)?;
    let survey = survey(Table::open(source)?, &plan)?;
    let clock = RowClock::new(survey.timing.clone());
    let mut conversion = Conversion::new(plan, survey, clock);

    let mut table = Table::open(source)?;
    let first = table.next_row()?;
    conversion.note_start(first.as_ref());
    let header = conversion.header(source, vehicle);
    let mut writer = Writer::aside(&new, &header)?;
    let mut row = first;
    while let Some(fields) = row {
        conversion.write_row(&fields, table.delimiter, &mut writer)?;
        progress(table.position());
        row = table.next_row()?;
    }
    writer.finish()?;
    new.finish().map_err(CaptureError::creating)?;
    Ok(conversion.outcome(table.cut_end))
}

/// The second pass.
struct Conversion {
    plan: Plan,
    survey: Survey,
    clock: RowClock,
    columns: Vec<Column>,
    started: Option<jiff::Timestamp>,
    rows: u64,
    rows_without_time: u64,
    last_us: u64,
}

/// What is being counted of one column.
struct Column {
    request: String,
    new_readings: NewReadings,
    readings: u64,
    unreadable: u64,
    impossible: u64,
}

impl Conversion {
    fn new(plan: Plan, survey: Survey, clock: RowClock) -> Self {
        let column = |slot: &Slot| Column {
            request: slot.item.to_string(),
            new_readings: NewReadings::new(survey.rows_held),
            readings: 0,
            unreadable: 0,
            impossible: 0,
        };
        Self {
            columns: plan.slots.iter().map(column).collect(),
            plan,
            survey,
            clock,
            started: None,
            rows: 0,
            rows_without_time: 0,
            last_us: 0,
        }
    }

    /// Finds out from the first row when the table began, where it says that.
    fn note_start(&mut self, first: Option<&StringRecord>) {
        if let Some(row) = first {
            let mut clock = self.clock.clone();
            clock.time_of(row, |_| None);
            self.started = clock.started;
        }
    }

    fn header(&self, source: &Path, vehicle: Option<Vehicle>) -> Header {
        let file = source.file_name().map(|name| name.to_string_lossy());
        let columns: serde_json::Map<_, _> = self
            .plan
            .slots
            .iter()
            .map(|slot| (slot.name.clone(), json!(slot.item.to_string())))
            .collect();
        let mut header = Header {
            started: self.started,
            vehicle,
            ..Header::by_this_program()
        };
        let source = json!({"file": file, "timing": self.survey.timing_words, "columns": columns});
        header.other.insert("imported".to_owned(), source);
        header
    }

    fn write_row(
        &mut self,
        row: &StringRecord,
        delimiter: u8,
        writer: &mut Writer,
    ) -> Result<(), ImportError> {
        self.rows += 1;
        let mut numbers: Vec<Option<f64>> = vec![None; self.columns.len()];
        self.plan.layout.for_each_field(row, |slot, text| {
            let field = Field::of(text, delimiter);
            if let Some(number) = numbers.get_mut(slot) {
                *number = field.number();
            }
            if field == Field::Unreadable
                && let Some(column) = self.columns.get_mut(slot)
            {
                column.unreadable += 1;
            }
        });
        let number = |slot: usize| numbers.get(slot).copied().flatten();
        let Some(t_us) = self.clock.time_of(row, number) else {
            self.rows_without_time += 1;
            return Ok(());
        };
        self.last_us = self.last_us.max(t_us);
        for ((column, slot), number) in self.columns.iter_mut().zip(&self.plan.slots).zip(&numbers)
        {
            let Some(number) = number else { continue };
            let own = slot.in_own_unit(*number);
            if !slot.item.can_be(own) {
                column.impossible += 1;
            } else if column.new_readings.is_new(*number) {
                column.readings += 1;
                writer.write(&Row {
                    t_us,
                    kind: Kind::Value,
                    ecu: "",
                    request: &column.request,
                    response: &own.to_string(),
                })?;
            }
        }
        Ok(())
    }

    fn outcome(self, cut_end: bool) -> Outcome {
        let seconds = self.last_us as f64 / 1e6;
        let seconds_per_row = match self.survey.timing {
            Timing::Rate { seconds_per_row }
            | Timing::RunTime {
                seconds_per_row, ..
            } => seconds_per_row,
            Timing::Column { .. } => seconds / self.rows.saturating_sub(1).max(1) as f64,
        };
        let matched = self
            .columns
            .iter()
            .zip(&self.plan.slots)
            .map(|(column, slot)| Matched {
                header: slot.name.clone(),
                request: column.request.clone(),
                name: quantity::name(slot.item),
                read_as: slot.read_as.clone(),
                converted: slot.conversion.is_some(),
                readings: column.readings,
                unreadable: column.unreadable,
                impossible: column.impossible,
            });
        Outcome {
            rows: self.rows,
            readings: self.columns.iter().map(|column| column.readings).sum(),
            seconds,
            timing: self.survey.timing_words,
            gaps: self.clock.gaps,
            rows_without_time: self.rows_without_time,
            new_readings_every_s: self.survey.rows_held.map(|rows| rows * seconds_per_row),
            cut_end,
            matched: matched.collect(),
            left_out: self.plan.left_out,
        }
    }
}

impl Slot {
    fn in_own_unit(&self, number: f64) -> f64 {
        match self.conversion {
            Some((from, to)) => from.convert(number, to),
            None => number,
        }
    }
}
