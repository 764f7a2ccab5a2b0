//! What the person should know about the data before relying on the result, as values; the words are the report's.

use serde::{Deserialize, Serialize};

use crate::series::label::{Label, region::Region};

/// A weakness of the data of one capture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Warning {
    /// There is no engine speed.
    NoEngineSpeed,
    /// There are no fuel trims.
    NoTrims,
    /// The car is not judged.
    NotJudged(NotJudged),
    /// The fuel trims of this bank (from 2) are bank 1's.
    CopiedBank(u8),
    /// Much of the time had a label that does not count.
    MuchTime {
        /// The label.
        label: Label,
        /// Seconds of it.
        seconds: f64,
        /// Seconds of the capture.
        of_s: f64,
    },
    /// Little usable data, seconds.
    LittleData(f64),
    /// Long term fuel trim was relearning.
    Relearning {
        /// Engine minutes since codes were cleared, where the car reports them.
        minutes_since_clear: Option<f64>,
        /// Seconds set aside.
        aside_s: f64,
    },
    /// Short term fuel trim was at its limit.
    Saturated {
        /// Bank, from 1.
        bank: u8,
        /// Region.
        region: Region,
        /// Share of the time, 0 to 1.
        share: f64,
    },
    /// The engine counts as warm by its running time.
    NoCoolant,
    /// No misfire counter ever moved.
    CountersNeverMoved,
    /// Misfire counters move in blocks of revolutions.
    CountersInBlocks,
    /// A misfire counter is at its largest value.
    CounterAtEnd,
}

/// Why trims must not be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum NotJudged {
    /// The car reports that it runs on diesel (PID 51).
    Diesel,
    /// The trims of all banks and terms agree to the bit.
    TrimsAlike,
}
