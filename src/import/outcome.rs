//! What an import did, for the person and for programs.

use serde::Serialize;

/// What an import did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// Rows of the table.
    pub rows: u64,
    /// Readings written.
    pub readings: u64,
    /// Time from the first row to the last, seconds.
    pub seconds: f64,
    /// How the rows were timed, in words.
    pub timing: String,
    /// Pauses found in the run time column where rows were lost.
    pub gaps: u32,
    /// Rows without a readable time, left out.
    pub rows_without_time: u64,
    /// Seconds from one new reading to the next, where values were merely repeated between; absent when all rows are new.
    pub new_readings_every_s: Option<f64>,
    /// The last line was cut inside a field, which was left out.
    pub cut_end: bool,
    /// Columns that were understood.
    pub matched: Vec<Matched>,
    /// Columns that were not used.
    pub left_out: Vec<LeftOut>,
}

/// A column that was understood.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Matched {
    /// The header's text.
    pub header: String,
    /// The request that it stands for.
    pub request: String,
    /// The quantity's name.
    pub name: Option<String>,
    /// How a misspelt header was read.
    pub read_as: Option<String>,
    /// Whether numbers were turned into the quantity's own unit.
    pub converted: bool,
    /// Readings written.
    pub readings: u64,
    /// Fields that hold something but no number.
    pub unreadable: u64,
    /// Numbers that the quantity cannot have, left out: another unit, perhaps, or a damaged field.
    pub impossible: u64,
}

/// A column that was not used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// The header's text.
    pub header: String,
    /// Why.
    pub why: String,
}
