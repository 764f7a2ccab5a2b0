//! What is done to the car: chosen first, then done, each noted in a file of its own.

use serde::{Deserialize, Serialize};

/// A treatment or repair, chosen or done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Work {
    /// When it was noted.
    pub at: jiff::Timestamp,
    /// What it is, in words for the customer.
    pub what: String,
    /// What it costs or has cost, in the owner's money.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
}

/// How far a piece of work is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// It was decided.
    Chosen,
    /// It was carried out.
    Done,
}

impl Stage {
    /// The word, as it begins the names of files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Chosen => "chosen",
            Self::Done => "done",
        }
    }
}
