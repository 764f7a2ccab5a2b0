//! Other loggers' CSV into captures: what a table's columns mean, when its rows were, which of them are new readings.

mod bounded;
mod column_map;
mod convert;
mod dialect;
mod error;
mod header_words;
mod matching;
mod number;
mod outcome;
mod plan;
mod repeats;
mod survey;
mod table;
mod timing;
mod unit_words;

pub use column_map::ColumnMap;
pub use convert::import;
pub use error::ImportError;
pub use outcome::{LeftOut, Matched, Outcome};
