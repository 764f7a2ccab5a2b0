//! The capture file: one recording, plain CSV with raw answers, readable for as long as there are spreadsheets.

mod block;
mod damage;
mod error;
mod header;
mod reader;
mod row;
mod sink;
mod writer;

pub use damage::{BadLine, Damage};
pub use error::CaptureError;
pub use header::{COLUMNS, Header, LinkNote, VERSION};
pub use reader::Reader;
pub use row::{Kind, Row};
pub use writer::Writer;
