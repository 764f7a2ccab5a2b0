//! What somebody knows of the fuel on both sides, where no sensor tells.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Whether both sides were driven on the same fuel.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FuelAnswer {
    /// Nobody has said.
    #[default]
    Unknown,
    /// It is the same: nothing was filled in, or the same again.
    Same,
    /// Another fuel was filled in.
    Changed,
}

/// A word that says nothing of the fuel.
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
