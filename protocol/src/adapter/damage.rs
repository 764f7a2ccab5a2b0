//! What can be wrong with a reply's lines, each kept with what is wrong with it.

use crate::{
    bus::{counted::CountError, segment::SegmentError},
    error::DecodeError,
};

/// Something in a reply that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// The adapter says that the line is damaged, or it holds what cannot stand there.
    #[error("damaged line {0:?}")]
    Line(String),
    /// A line that is no frame of this bus.
    #[error("line {line:?}: {error}")]
    Frame {
        /// The line, without spaces.
        line: String,
        /// What is wrong with it.
        error: DecodeError,
    },
    /// A message of several CAN frames that is not whole.
    #[error(transparent)]
    Segments(#[from] SegmentError),
    /// A message of several counted frames that is not whole.
    #[error(transparent)]
    Count(#[from] CountError),
    /// A message of several lines, printed without headers, that is not whole.
    #[error("a message of {expected} bytes is not whole: {found} bytes came in order")]
    NotWhole {
        /// Bytes announced.
        expected: usize,
        /// Bytes that came.
        found: usize,
    },
    /// The reply was longer than any can be.
    #[error("{0} bytes too many")]
    TooLong(usize),
}
