//! Decoded data out of captures, as CSV for spreadsheets and data-frame programs.

mod cell;
mod error;
mod long;
mod number;
mod wide;

pub use error::ExportError;
pub use long::long;
pub use wide::wide;

use crate::capture::Damage;

/// What became of a capture.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Exported {
    /// What was wrong with the file.
    pub damage: Damage,
    /// What the rows leave out.
    pub gaps: Gaps,
}

/// Stretches without any reading, for which no rows are written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Gaps {
    /// How many.
    pub count: u64,
    /// How long they are together, µs.
    pub length_us: u64,
}
