//! What the user states about the fuel of both sides, where no sensor reports it.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Whether both sides were driven on the same fuel.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FuelAnswer {
    /// The user has not stated it.
    #[default]
    Unknown,
    /// The same fuel: nothing was added, or the same again.
    Same,
    /// A different fuel was added.
    Changed,
}

/// The text is no answer about the fuel.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected same or changed")]
pub struct NoFuelAnswer;

impl FromStr for FuelAnswer {
    type Err = NoFuelAnswer;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "same" => Ok(Self::Same),
            "changed" => Ok(Self::Changed),
            _ => Err(NoFuelAnswer),
        }
    }
}
