//! Errors of an editable table.

use crate::cause::Cause;

/// A table that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// The text is no readable table; the message names line and column.
    #[error("{0}")]
    Format(String),
    /// The table lacks this cause.
    #[error("{0} is missing")]
    Missing(Cause),
    /// A number is outside its range.
    #[error("{cause}: expected {expected}")]
    Range {
        /// The cause whose row is wrong.
        cause: Cause,
        /// The range that is allowed.
        expected: &'static str,
    },
}
