//! One decoded fact with its time: what the series are built from, whether it came live, from a capture or by import.

use pintle_protocol::Item;

/// One number, once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Microseconds since the recording started.
    pub t_us: u64,
    /// What was read.
    pub item: Item,
    /// In the item's own unit; a bit-coded item gives its raw code.
    pub value: f64,
}
