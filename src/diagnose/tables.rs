//! The three editable tables of the judgement.

use super::{next_check::Checks, prior::Priors, table_error::TableError, treatment::Actions};

/// Priors of the causes, outcomes of the checks, costs of the treatments.
#[derive(Debug, Clone, PartialEq)]
pub struct Tables {
    /// Prior of each cause.
    pub priors: Priors,
    /// Checks that can be done next.
    pub checks: Checks,
    /// Treatments that can be done.
    pub actions: Actions,
}

impl Tables {
    /// The tables that are built into the program.
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
