//! Decoded data out of captures, as CSV for spreadsheets and data-frame programs.

mod error;
mod long;
mod number;
mod wide;

pub use error::ExportError;
pub use long::long;
pub use wide::wide;
