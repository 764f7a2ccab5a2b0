//! One row a step of time, one column a quantity: `time (s)`, then `name (unit)`.
//!
//! A quantity is known from a reading until the next one, but no longer than three of its usual intervals and never
//! longer than ten seconds; then its field is empty.

use std::{collections::BTreeMap, io::Write, path::Path};

use pintle_protocol::Item;

use super::{error::ExportError, number};
use crate::{
    capture::{Contents, Damage, Reader, Tally, numbers},
    printable, quantity,
};

/// Longest time for which a reading is taken as known, µs.
const LONGEST_AGE_US: u64 = 10_000_000;

/// A quantity's column.
struct Column {
    heading: String,
    age_us: u64,
    latest: Option<(u64, f64)>,
}

/// Writes one row every `step_us` microseconds, from 0 to the last row.
///
/// # Errors
/// When the capture cannot be read or the result cannot be written.
pub fn wide(path: &Path, step_us: u64, out: impl Write) -> Result<Damage, ExportError> {
    let contents = Contents::read(path)?;
    let mut columns = columns_of(&contents);
    let mut table = csv::Writer::from_writer(out);
    let headings = columns.values().map(|column| column.heading.as_str());
    table.write_record(std::iter::once("time (s)").chain(headings))?;
    let mut reader = Reader::open(path)?;
    let mut tick_us = 0;
    while let Some(row) = reader.next_row()? {
        while row.t_us > tick_us {
            write_moment(tick_us, &columns, &mut table)?;
            tick_us += step_us;
        }
        numbers(&row, |item, value| {
            if let Some(column) = columns.get_mut(&(row.ecu.to_owned(), item)) {
                column.latest = Some((row.t_us, value));
            }
        });
    }
    write_moment(tick_us, &columns, &mut table)?;
    table.flush()?;
    Ok(contents.damage)
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
    let name = quantity::name(item).unwrap_or_else(|| item.to_string());
    let ecu = ecu.map(|ecu| format!("{ecu} ")).unwrap_or_default();
    match quantity::unit(item).map_or("", |unit| unit.symbol()) {
        "" => printable::line(&format!("{ecu}{name}")).into_owned(),
        unit => printable::line(&format!("{ecu}{name} ({unit})")).into_owned(),
    }
}

fn greatest_age_us(tally: &Tally) -> u64 {
    let interval = tally.per_second().map(|rate| 3e6 / rate);
    interval.map_or(LONGEST_AGE_US, |three| (three as u64).min(LONGEST_AGE_US))
}

fn write_moment(
    tick_us: u64,
    columns: &BTreeMap<(String, Item), Column>,
    table: &mut csv::Writer<impl Write>,
) -> Result<(), ExportError> {
    table.write_field(number::text(tick_us as f64 / 1e6))?;
    for column in columns.values() {
        let known = column
            .latest
            .filter(|(t_us, _)| tick_us.saturating_sub(*t_us) <= column.age_us);
        table.write_field(
            known
                .map(|(_, value)| number::text(value))
                .unwrap_or_default(),
        )?;
    }
    Ok(table.write_record(None::<&[u8]>)?)
}
