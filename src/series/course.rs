//! How a trip went, second by second: what was counted and what the corrections were. Kept only when asked for, since it
//! grows with the length of the recording.

use super::{correction::BANKS, label::Label};

/// One second of a trip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    /// Seconds since the recording started.
    pub second: u64,
    /// Whether it counts, or why not.
    pub label: Label,
    /// y = ln C of each bank, bank 1 first, where it is known; also in seconds that do not count.
    pub correction_log: [Option<f64>; BANKS],
}

/// The seconds of a trip in their order; silent stretches are not in it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Course {
    /// The seconds.
    pub seconds: Vec<Second>,
}
