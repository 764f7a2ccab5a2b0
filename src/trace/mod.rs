//! The trace file: every byte that went over the line, both ways, with its time.
//!
//! Plain text, for a technician to read and for two to be compared line by line:
//! ```text
//! pintle trace v1
//! # begun 2026-03-14T09:26:53Z
//! 0 open 38400 baud
//! 210 out ATZ\r
//! 652114 in ATZ\r\r\rSERIAL ADAPTER v3.2\r\r>
//! 9120334 lost device disconnected
//! ```
//! Each line holds microseconds since the beginning, a word, and what belongs to it. `out` is what the program sent, `in`
//! what the adapter did, one line for each run of bytes as the system handed it over. Printable ASCII stands as it is;
//! `\r`, `\n`, `\0`, `\\` and `\xNN` are all the rest, and a space at either end is `\x20`. Lines that begin with `#` are
//! remarks.

mod entry;
mod error;
mod reader;
mod writer;

pub use entry::{Entry, Event};
pub use error::{BadEntry, TraceError};
pub use reader::{parse, read};
pub use writer::Writer;

/// First line of every trace.
const TITLE: &str = "pintle trace v1";
