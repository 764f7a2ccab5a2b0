//! One row a step of time, one column a quantity: `time (s)`, then `name (unit)`.
//!
//! A quantity is known from a reading until the next one, but no longer than three of its usual intervals and never
//! longer than ten seconds; then its field is empty. A stretch in which nothing is known has no rows: a capture of two moments
//! years apart is short.

use std::{collections::BTreeMap, io::Write, path::Path};

use pintle_protocol::Item;

use super::{Exported, Gaps, cell::cell, error::ExportError, number};
use crate::{
    capture::{Contents, Reader, Tally, numbers},
    quantity,
};

/// Longest time for which a reading is taken as known, µs.
const LONGEST_AGE_US: u64 = 10_000_000;

/// A quantity's column.
struct Column {
    heading: String,
    age_us: u64,
    latest: Option<(u64, f64)>,
}

/// Writes one row every `step_us` microseconds, from 0 to the last row, but none where no reading is young enough.
///
/// # Errors
/// When the capture cannot be read or the result cannot be written.
pub fn wide(path: &Path, step_us: u64, out: impl Write) -> Result<Exported, ExportError> {
    let contents = Contents::read(path)?;
    let mut table = csv::Writer::from_writer(out);
    let mut moments = Moments::new(columns_of(&contents), step_us);
    moments.write_headings(&mut table)?;
    let mut reader = Reader::open(path)?;
    while let Some(row) = reader.next_row()? {
        moments.write_before(row.t_us, &mut table)?;
        numbers(&row, |item, value| {
            moments.take((row.ecu, item), row.t_us, value)
        });
    }
    moments.write_one(&mut table)?;
    table.flush()?;
    Ok(Exported {
        damage: contents.damage,
        gaps: moments.gaps,
    })
}

/// The rows of the table, as far as they are written.
struct Moments {
    columns: BTreeMap<(String, Item), Column>,
    step_us: u64,
    /// Time of the next row, µs.
    next_us: u64,
    /// Time of the latest reading, µs.
    read_us: u64,
    /// Rows have been left out since then.
    in_gap: bool,
    gaps: Gaps,
}

impl Moments {
    fn new(columns: BTreeMap<(String, Item), Column>, step_us: u64) -> Self {
        Self {
            columns,
            step_us: step_us.max(1),
            next_us: 0,
            read_us: 0,
            in_gap: false,
            gaps: Gaps::default(),
        }
    }

    fn take(&mut self, (ecu, item): (&str, Item), t_us: u64, value: f64) {
        if let Some(column) = self.columns.get_mut(&(ecu.to_owned(), item)) {
            column.latest = Some((t_us, value));
            self.read_us = t_us;
            self.in_gap = false;
        }
    }

    /// Writes the rows before `t_us` in which something can be known, and passes over the others.
    fn write_before(
        &mut self,
        t_us: u64,
        table: &mut csv::Writer<impl Write>,
    ) -> Result<(), ExportError> {
        while self.next_us < t_us {
            if self.next_us - self.read_us.min(self.next_us) > LONGEST_AGE_US {
                self.pass_over(t_us);
                return Ok(());
            }
            self.write_one(table)?;
            self.next_us = self.next_us.saturating_add(self.step_us);
        }
        Ok(())
    }

    fn pass_over(&mut self, t_us: u64) {
        let steps = (t_us - self.next_us).div_ceil(self.step_us);
        let after_us = self
            .next_us
            .saturating_add(steps.saturating_mul(self.step_us));
        self.gaps.count += u64::from(!self.in_gap);
        self.gaps.length_us = (self.gaps.length_us).saturating_add(after_us - self.next_us);
        self.in_gap = true;
        self.next_us = after_us;
    }

    fn write_headings(&self, table: &mut csv::Writer<impl Write>) -> Result<(), ExportError> {
        let headings = self.columns.values().map(|column| &column.heading);
        table.write_field("time (s)")?;
        for heading in headings {
            table.write_field(&*cell(heading))?;
        }
        Ok(table.write_record(None::<&[u8]>)?)
    }

    /// Writes the next row.
    fn write_one(&self, table: &mut csv::Writer<impl Write>) -> Result<(), ExportError> {
        table.write_field(number::text(self.next_us as f64 / 1e6))?;
        for column in self.columns.values() {
            let young =
                |(t_us, _): &(u64, f64)| self.next_us.saturating_sub(*t_us) <= column.age_us;
            let known = column.latest.filter(young);
            let text = known.map(|(_, value)| number::text(value));
            table.write_field(text.unwrap_or_default())?;
        }
        Ok(table.write_record(None::<&[u8]>)?)
    }
}

fn columns_of(contents: &Contents) -> BTreeMap<(String, Item), Column> {
    let items = contents.items.iter();
    items
        .map(|((ecu, item), tally)| {
            let several = contents
                .items
                .keys()
                .any(|(other, same)| same == item && other != ecu);
            let column = Column {
                heading: heading(several.then_some(ecu), *item),
                age_us: greatest_age_us(tally),
                latest: None,
            };
            ((ecu.clone(), *item), column)
        })
        .collect()
}

/// `name (unit)`, with the controller before it when several report the same.
fn heading(ecu: Option<&String>, item: Item) -> String {
    let ecu = ecu.map(|ecu| format!("{ecu} ")).unwrap_or_default();
    format!("{ecu}{}", quantity::heading(item))
}

fn greatest_age_us(tally: &Tally) -> u64 {
    let interval = tally.per_second().map(|rate| 3e6 / rate);
    interval.map_or(LONGEST_AGE_US, |three| (three as u64).min(LONGEST_AGE_US))
}
