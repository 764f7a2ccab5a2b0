//! Why an export did not come to its end.

use std::io;

use crate::{capture::CaptureError, io_words};

/// Why an export did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The capture cannot be read.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The result cannot be written.
    #[error("{}", io_words::problem(.0))]
    Output(#[from] io::Error),
}

impl From<csv::Error> for ExportError {
    fn from(error: csv::Error) -> Self {
        match error.into_kind() {
            // As it is: whether the reader went away is told by its kind.
            csv::ErrorKind::Io(error) => Self::Output(error),
            other => Self::Output(io::Error::other(format!("{other:?}"))),
        }
    }
}
