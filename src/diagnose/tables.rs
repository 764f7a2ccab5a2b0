//! The three editable tables of the judgement.

use super::{next_check::Checks, prior::Priors, table_error::TableError, treatment::Actions};

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
