//! Before or after the work.

use std::{fmt, str::FromStr};

/// On which side of the work something was recorded or measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// As the car came.
    Before,
    /// Once the work was done.
    After,
}

impl Side {
    /// The word, as it begins the names of files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::After => "after",
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A word that is no side.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected before or after")]
pub struct NoSide;

impl FromStr for Side {
    type Err = NoSide;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "before" => Ok(Self::Before),
            "after" => Ok(Self::After),
            _ => Err(NoSide),
        }
    }
}
