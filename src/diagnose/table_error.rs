//! What can be wrong with an editable table.

use crate::cause::Cause;

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
