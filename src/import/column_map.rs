//! The column map: what a person says about a table, as TOML.

use std::collections::BTreeMap;

use pintle_protocol::Item;
use serde::Deserialize;

use super::{error::ImportError, unit_words::Measure};
use crate::{entries, quantity::item_of_request};

/// What a person says about a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ColumnMap {
    pub(super) rows_per_second: Option<f64>,
    pub(super) time: Option<TimeColumn>,
    pub(super) shape: Shape,
    /// Header text (or name in a long table) and what stands there.
    pub(super) columns: BTreeMap<String, Meaning>,
}

/// The column that holds the time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct TimeColumn {
    pub column: String,
    pub unit: TimeUnit,
}

/// How times are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub(super) enum TimeUnit {
    #[serde(rename = "s")]
    Second,
    #[serde(rename = "ms")]
    Millisecond,
    #[serde(rename = "us")]
    Microsecond,
    #[serde(rename = "rfc3339")]
    Rfc3339,
}

/// How a table is laid out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) enum Shape {
    /// A column a quantity.
    #[default]
    Wide,
    /// A row a reading: name and value.
    Long {
        /// Column with the quantity's name.
        name: String,
        /// Column with the value.
        value: String,
    },
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meaning {
    pub item: Item,
    /// The unit, when it is not the quantity's own.
    pub unit: Option<Measure>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    rows_per_second: Option<f64>,
    time: Option<TimeEntry>,
    shape: Option<ShapeWord>,
    name_column: Option<String>,
    value_column: Option<String>,
    columns: BTreeMap<String, ColumnEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TimeEntry {
    column: String,
    unit: TimeUnit,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum ShapeWord {
    Wide,
    Long,
}

#[derive(Deserialize)]
#[serde(
    untagged,
    expecting = "expected a request such as \"0106\" or { request = \"0105\", unit = \"degF\" }"
)]
enum ColumnEntry {
    Request(String),
    WithUnit(RequestAndUnit),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RequestAndUnit {
    request: String,
    unit: Option<String>,
}

impl ColumnMap {
    /// Reads a column map's text.
    ///
    /// # Errors
    /// [`ImportError::Map`] naming the entry, and line and column where the text is no TOML.
    pub fn from_toml(text: &str) -> Result<Self, ImportError> {
        let document: Document = entries::read(text).map_err(ImportError::Map)?;
        let columns = document
            .columns
            .into_iter()
            .map(|(name, entry)| Ok((name.trim().to_owned(), Meaning::of(&name, entry)?)))
            .collect::<Result<_, ImportError>>()?;
        if let Some(rate) = document.rows_per_second
            && !(rate > 0.0 && rate <= 10_000.0)
        {
            return Err(wrong(
                "rows_per_second",
                &rate.to_string(),
                "a rate above 0, at most 10000",
            ));
        }
        let shape = match (document.shape, document.name_column, document.value_column) {
            (Some(ShapeWord::Long), Some(name), Some(value)) => Shape::Long { name, value },
            (Some(ShapeWord::Long), ..) => {
                return Err(wrong(
                    "shape",
                    "long",
                    "name_column and value_column beside it",
                ));
            }
            (_, None, None) => Shape::Wide,
            _ => return Err(wrong("name_column", "given", "shape = \"long\" beside it")),
        };
        Ok(Self {
            rows_per_second: document.rows_per_second,
            time: document.time.map(|time| TimeColumn {
                column: time.column,
                unit: time.unit,
            }),
            shape,
            columns,
        })
    }
}

impl Meaning {
    fn of(name: &str, entry: ColumnEntry) -> Result<Self, ImportError> {
        let (request, unit) = match entry {
            ColumnEntry::Request(request) => (request, None),
            ColumnEntry::WithUnit(entry) => (entry.request, entry.unit),
        };
        let item = item_of_request(request.trim()).ok_or_else(|| {
            wrong(
                name,
                &request,
                "a request: 01 and a parameter, or 06 with monitor and test, in hex",
            )
        })?;
        let unit = match unit {
            None => None,
            Some(word) => Some(
                Measure::of(&word)
                    .ok_or_else(|| wrong(name, &word, "a unit such as degF, psi, mph, inHg"))?,
            ),
        };
        Ok(Self { item, unit })
    }
}

fn wrong(entry: &str, found: &str, expected: &str) -> ImportError {
    ImportError::Map(format!("{entry} = {found:?}: expected {expected}"))
}

#[cfg(test)]
mod tests {
    use pintle_protocol::Pid;

    use super::*;

    #[test]
    fn the_map_of_the_description_is_read() {
        let map = ColumnMap::from_toml(
            "rows_per_second = 1.0\nshape = \"wide\"\n[columns]\n\"STFT B1\" = \"0106\"\n\
             \"Coolant F\" = { request = \"0105\", unit = \"degF\" }\n\
             \"cyl 3 misfires this trip\" = \"06A40C\"\n",
        )
        .unwrap();
        assert_eq!(map.rows_per_second, Some(1.0));
        assert_eq!(map.columns["STFT B1"].item, Item::current(Pid(6)));
        assert_eq!(map.columns["Coolant F"].unit, Measure::of("°F"));
        assert_eq!(
            map.columns["cyl 3 misfires this trip"].item,
            Item::monitor(0xA4, 0x0C)
        );
    }

    #[test]
    fn a_wrong_entry_is_named() {
        for (text, says) in [
            ("[columns]\nA = \"0206\"\n", "A = \"0206\""),
            (
                "[columns]\nA = { request = \"0105\", unit = \"furlong\" }\n",
                "furlong",
            ),
            ("[columns]\nA = 6\n", "line 2"),
            ("rows_per_second = 0.0\n[columns]\n", "rows_per_second"),
            ("shape = \"long\"\n[columns]\n", "name_column"),
            ("name_column = \"n\"\n[columns]\n", "shape"),
            (
                "time = { column = \"t\", unit = \"days\" }\n[columns]\n",
                "line 1",
            ),
            ("colums = 1\n", "colums"),
            ("shape = \"wide\"\n", "columns"),
        ] {
            let error = ColumnMap::from_toml(text).unwrap_err().to_string();
            assert!(error.contains(says), "{text:?}: {error}");
        }
    }
}
