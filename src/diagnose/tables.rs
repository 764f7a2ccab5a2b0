//! The three editable tables of the judgement, and what can be wrong with them.

use crate::cause::Cause;

use super::{next_check::Checks, prior::Priors, treatment::Actions};

/// How common causes are, what checks tell, what treatments cost.
#[derive(Debug, Clone, PartialEq)]
pub struct Tables {
    /// How common each cause is.
    pub priors: Priors,
    /// What can be checked next.
    pub checks: Checks,
    /// What can be done.
    pub actions: Actions,
}

/// A table that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// No readable table; the text names line and column.
    #[error("{0}")]
    Format(String),
    /// A cause is not in it.
    #[error("{0} is missing")]
    Missing(Cause),
    /// A number outside its range.
    #[error("{cause}: expected {expected}")]
    Range {
        /// The cause.
        cause: Cause,
        /// What would be right.
        expected: &'static str,
    },
}

impl TableError {
    /// A table that cannot be read.
    pub(super) fn format(error: toml::de::Error) -> Self {
        Self::Format(error.to_string().trim_end().to_owned())
    }
}

impl Tables {
    /// The tables that come with the program.
    ///
    /// # Errors
    /// Only if the program was built with a broken table.
    pub fn standard() -> Result<Self, TableError> {
        Ok(Self {
            priors: Priors::from_toml(include_str!("prior.toml"))?,
            checks: Checks::from_toml(include_str!("checks.toml"))?,
            actions: Actions::from_toml(include_str!("treatment.toml"))?,
        })
    }
}
