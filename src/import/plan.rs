//! What the columns of one table hold, found out from a column map or from the headers.

use std::collections::BTreeMap;

use csv::StringRecord;
use pintle_protocol::{Item, Pid};

use super::{
    column_map::{ColumnMap, Meaning, Shape, TimeUnit},
    error::ImportError,
    matching::{Unsaid, read_header, split_unit, words_of},
    outcome::LeftOut,
    table::Table,
    unit_words::Measure,
};
use crate::quantity;

/// A quantity of the table.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slot {
    pub item: Item,
    /// Header, or name in a long table.
    pub name: String,
    /// How a misspelt header was read.
    pub read_as: Option<String>,
    /// From the unit in the table to the quantity's own.
    pub conversion: Option<(Measure, Measure)>,
}

/// Where the readings stand in a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Layout {
    /// Slot number n stands in this column.
    Wide(Vec<usize>),
    /// One reading a row.
    Long {
        name: usize,
        value: usize,
        slots: BTreeMap<String, usize>,
    },
}

/// Where the times stand, as far as the headers tell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TimeSource {
    /// A column; the unit is `None` when the header does not say it.
    Column {
        index: usize,
        unit: Option<TimeUnit>,
    },
    /// A fixed rate, rows per second.
    Rate(f64),
    /// Nothing says.
    Unsaid,
}

/// What is known of a table before its rows are looked at.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plan {
    pub slots: Vec<Slot>,
    pub layout: Layout,
    pub time: TimeSource,
    pub left_out: Vec<LeftOut>,
}

impl Plan {
    /// Finds out what the columns hold.
    pub fn of(table: &Table, map: Option<&ColumnMap>) -> Result<Self, ImportError> {
        let plan = match map {
            Some(map) => Self::by_map(table, map)?,
            None => Self::by_headers(table),
        };
        if plan.slots.is_empty() {
            Err(ImportError::NothingMatched(table.header_list()))
        } else {
            Ok(plan)
        }
    }

    /// The slot that holds a quantity.
    pub fn slot_of(&self, pid: Pid) -> Option<usize> {
        self.slots
            .iter()
            .position(|slot| slot.item == Item::current(pid))
    }

    fn by_headers(table: &Table) -> Self {
        let mut columns = Columns::default();
        let mut time = TimeSource::Unsaid;
        for (index, header) in table.headers.iter().enumerate() {
            if header.is_empty() {
                continue;
            }
            if time == TimeSource::Unsaid
                && let Some(unit) = time_header(header)
            {
                time = TimeSource::Column { index, unit };
                continue;
            }
            match read_header(header, own_measure) {
                Ok(said) => {
                    let meaning = Meaning {
                        item: said.item,
                        unit: said.unit,
                    };
                    columns.add(index, header, meaning, said.read_as);
                }
                Err(Unsaid::Unknown) => columns.leave_out(header, "no known quantity"),
                Err(Unsaid::Ambiguous) => columns.leave_out(header, "could be several quantities"),
            }
        }
        columns.into_plan(time)
    }

    fn by_map(table: &Table, map: &ColumnMap) -> Result<Self, ImportError> {
        let column = |name: &str| {
            let found = table
                .headers
                .iter()
                .position(|header| header == name.trim());
            found.ok_or_else(|| ImportError::NoSuchColumn {
                name: name.to_owned(),
                present: table.header_list(),
            })
        };
        let time = match (&map.time, map.rows_per_second) {
            (Some(time), _) => TimeSource::Column {
                index: column(&time.column)?,
                unit: Some(time.unit),
            },
            (None, Some(rate)) => TimeSource::Rate(rate),
            (None, None) => TimeSource::Unsaid,
        };
        let mut columns = Columns::default();
        match &map.shape {
            Shape::Wide => {
                for name in map.columns.keys() {
                    column(name)?;
                }
                for (index, header) in table.headers.iter().enumerate() {
                    match map.columns.get(header) {
                        Some(meaning) => columns.add(index, header, *meaning, None),
                        None if header.is_empty() || time_is(&time, index) => {}
                        None => columns.leave_out(header, "not in the column map"),
                    }
                }
                Ok(columns.into_plan(time))
            }
            Shape::Long { name, value } => {
                for (index, (name, meaning)) in map.columns.iter().enumerate() {
                    columns.add(index, name, *meaning, None);
                }
                let slots = columns.slots.iter().enumerate();
                let layout = Layout::Long {
                    name: column(name)?,
                    value: column(value)?,
                    slots: slots
                        .map(|(number, slot)| (slot.name.clone(), number))
                        .collect(),
                };
                Ok(Self {
                    layout,
                    ..columns.into_plan(time)
                })
            }
        }
    }
}

impl Layout {
    /// Hands every field that holds a reading to `take`, with its slot number.
    pub fn for_each_field(&self, row: &StringRecord, mut take: impl FnMut(usize, &str)) {
        match self {
            Self::Wide(columns) => {
                for (slot, column) in columns.iter().enumerate() {
                    if let Some(text) = row.get(*column) {
                        take(slot, text);
                    }
                }
            }
            Self::Long { name, value, slots } => {
                let slot = row.get(*name).and_then(|name| slots.get(name));
                if let (Some(slot), Some(text)) = (slot, row.get(*value)) {
                    take(*slot, text);
                }
            }
        }
    }
}

/// Collects columns while their quantities are determined.
#[derive(Default)]
struct Columns {
    slots: Vec<Slot>,
    indices: Vec<usize>,
    left_out: Vec<LeftOut>,
}

impl Columns {
    fn add(&mut self, index: usize, header: &str, meaning: Meaning, read_as: Option<String>) {
        let item = meaning.item;
        if let Some(slot) = self.slots.iter().find(|slot| slot.item == item) {
            let why = format!("the same as the column {:?} before it", slot.name);
            return self.leave_out(header, why);
        }
        let conversion = match (meaning.unit, own_measure(item)) {
            (Some(said), Some(own)) if !said.fits(own) => {
                return self.leave_out(header, "its unit does not fit the quantity");
            }
            (Some(said), Some(own)) if said != own => Some((said, own)),
            _ => None,
        };
        self.indices.push(index);
        self.slots.push(Slot {
            item,
            name: header.to_owned(),
            read_as,
            conversion,
        });
    }

    fn leave_out(&mut self, header: &str, why: impl Into<String>) {
        self.left_out.push(LeftOut {
            header: header.to_owned(),
            why: why.into(),
        });
    }

    fn into_plan(self, time: TimeSource) -> Plan {
        Plan {
            slots: self.slots,
            layout: Layout::Wide(self.indices),
            time,
            left_out: self.left_out,
        }
    }
}

fn time_is(time: &TimeSource, column: usize) -> bool {
    matches!(time, TimeSource::Column { index, .. } if *index == column)
}

/// Whether a header says the time of the row; inside, its unit if it says that too.
fn time_header(header: &str) -> Option<Option<TimeUnit>> {
    let (text, measure) = split_unit(header);
    let mut words = words_of(&text);
    let mut unit = measure.and_then(time_unit);
    if words.len() > 1
        && let Some(last) = words
            .last()
            .and_then(|word| Measure::of(word))
            .and_then(time_unit)
    {
        unit = unit.or(Some(last));
        words.pop();
    }
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words[..] {
        ["time" | "timestamp" | "elapsed"]
        | ["time", "stamp"]
        | ["elapsed", "time"]
        | ["time", "elapsed"]
        | ["date", "time"]
        | ["datetime"] => Some(unit),
        ["seconds"] => Some(unit.or(Some(TimeUnit::Second))),
        ["milliseconds"] => Some(unit.or(Some(TimeUnit::Millisecond))),
        _ => None,
    }
}

fn time_unit(measure: Measure) -> Option<TimeUnit> {
    let same = |word: &str| Measure::of(word) == Some(measure);
    if same("s") {
        Some(TimeUnit::Second)
    } else if same("ms") {
        Some(TimeUnit::Millisecond)
    } else if same("us") {
        Some(TimeUnit::Microsecond)
    } else {
        None
    }
}

/// A quantity's own unit.
fn own_measure(item: Item) -> Option<Measure> {
    quantity::unit(item).and_then(Measure::of_unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_headers_tell_their_unit_when_they_say_it() {
        for (header, unit) in [
            ("time", Some(None)),
            ("Time (ms)", Some(Some(TimeUnit::Millisecond))),
            ("elapsed_s", Some(Some(TimeUnit::Second))),
            ("Timestamp", Some(None)),
            ("Seconds", Some(Some(TimeUnit::Second))),
            ("Engine run time", None),
            ("Time since start", None),
        ] {
            assert_eq!(time_header(header), unit, "{header}");
        }
    }
}
