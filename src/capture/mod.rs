//! The capture file: one recording, plain CSV with raw answers, readable for as long as there are spreadsheets.

mod batch;
mod block;
mod contents;
mod damage;
mod decode;
mod engine;
mod error;
mod fact;
mod fast;
mod header;
mod members;
mod observations;
mod reader;
mod row;
mod same;
mod sink;
mod times;
mod whereabouts;
mod writer;

pub use contents::{Contents, Kept, RowCounts, Tally};
pub use damage::{BadLine, Damage};
pub use decode::{answer, numbers};
pub use error::CaptureError;
pub use fact::{Decoder, Fact};
pub use header::{COLUMNS, Header, LinkNote, VERSION};
pub use observations::Observations;
pub use reader::{Bookmark, Next, Reader};
pub use row::{Kind, OwnedRow, Row};
pub use same::is_same_recording;
pub use writer::{Gauge, OnDisk, Writer};
