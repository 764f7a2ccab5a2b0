//! Why another logger's table cannot be turned into a capture, each with the next step.

use std::io;

use crate::{capture::CaptureError, io_words};

/// Why a table cannot be imported.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The table cannot be opened.
    #[error(transparent)]
    Source(CaptureError),
    /// The capture cannot be written.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The table cannot be read.
    #[error("{}", io_words::problem(.0))]
    Io(#[from] io::Error),
    /// Not a text file.
    #[error("this is not a text table")]
    NotText,
    /// It is a capture already.
    #[error("this already is a capture")]
    AlreadyCapture,
    /// The column map cannot be read; line and column are in the text.
    #[error("the column map cannot be read: {0}")]
    Map(String),
    /// A column that the map names is not in the table.
    #[error("there is no column {name:?}; the table has {present}")]
    NoSuchColumn {
        /// What the map says.
        name: String,
        /// What the table has.
        present: String,
    },
    /// No column holds a known quantity.
    #[error("no column header clearly names a quantity; the table has {0}")]
    NothingMatched(String),
    /// Nothing gives the time of the rows.
    #[error("the table does not say how fast its rows follow each other")]
    NoTime,
    /// A time column whose unit is not clear.
    #[error("the time column {0:?} does not say its unit")]
    TimeUnit(String),
    /// A line, or a quoted field over several lines, is longer than any table's.
    #[error("from line {line} on there is more than 1 MB without the end of a row")]
    LineTooLong {
        /// Where it begins, from 1.
        line: u64,
    },
    /// More columns than any logger writes.
    #[error("the table has more than {0} columns")]
    TooManyColumns(usize),
    /// Not one row holds a number.
    #[error("there is no row with a reading")]
    NoReadings,
}

impl ImportError {
    /// What the person can do now.
    pub fn next_step(&self) -> &'static str {
        match self {
            Self::Source(error) | Self::Capture(error) => error.next_step(),
            Self::Io(error) => io_words::next_step(error),
            Self::NotText => "save it as CSV in UTF-8 and import that",
            Self::AlreadyCapture => "use it as it is",
            Self::Map(_) => "correct that entry of the column map",
            Self::NoSuchColumn { .. } => "copy the header's text into the column map exactly",
            Self::NothingMatched(_) => "name the columns with `--columns MAP`",
            Self::NoTime => {
                "add `rows_per_second = …` or `time = { column = \"…\", unit = \"s\" }` to a column map"
            }
            Self::TimeUnit(_) => {
                "add `time = { column = \"…\", unit = \"…\" }` with s, ms, us or rfc3339 to a column map"
            }
            Self::LineTooLong { .. } | Self::TooManyColumns(_) => {
                "check that this is a table with one line per row"
            }
            Self::NoReadings => "check that this is the right file",
        }
    }
}
