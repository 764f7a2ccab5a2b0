//! Why a trace cannot be read or begun, each with the next step.

use std::{io, path::Path};

use crate::io_words;

/// Why a trace cannot be read or begun.
#[derive(Debug, thiserror::Error)]
pub enum TraceError {
    /// No file of that name.
    #[error("there is no such file")]
    Missing,
    /// A folder stands where a file was expected.
    #[error("this is a folder, not a trace")]
    Folder,
    /// A file of that name is there already.
    #[error("the file already exists and is never overwritten")]
    Exists,
    /// The folder of a new trace is missing.
    #[error("there is no such folder")]
    NoFolder,
    /// Something else than a trace.
    #[error("this is not a trace: expected `pintle trace v1` on line 1, found {0:?}")]
    NotATrace(String),
    /// A line that says nothing known.
    #[error("line {line}: {problem}")]
    Line {
        /// Number of the line, from 1.
        line: usize,
        /// What is wrong with it.
        problem: BadEntry,
    },
    /// Nothing was said in it.
    #[error("nothing was sent to an adapter in this trace")]
    Silent,
    /// The operating system refused.
    #[error("{}", io_words::problem(.0))]
    Io(#[from] io::Error),
}

/// What is wrong with a line of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BadEntry {
    /// It does not begin with a time.
    #[error("expected a time in whole microseconds first")]
    Time,
    /// It lies before the line above.
    #[error("its time is before that of the line above")]
    Backwards,
    /// An unknown word behind the time.
    #[error("expected `out`, `in`, `open` or `lost` after the time")]
    Word,
    /// A speed that is none.
    #[error("expected nothing or a speed (`38400 baud`) after `open`")]
    Speed,
    /// A byte that must be written otherwise.
    #[error(
        "only printable ASCII is written as it is; everything else as `\\r`, `\\n`, `\\0`, `\\\\` or `\\xNN`"
    )]
    Byte,
    /// An unknown letter behind a backslash.
    #[error(
        "after a backslash only `r`, `n`, `0`, `x` with two hex digits, or a backslash is allowed"
    )]
    Escape,
}

impl TraceError {
    /// What the person can do now.
    pub fn next_step(&self) -> &'static str {
        match self {
            Self::Missing => "check the name and the folder",
            Self::Folder => "choose a file in it",
            Self::Exists => "choose another name or move the old file away",
            Self::NotATrace(_) => "give a file written with --trace",
            Self::Line { .. } => "correct the line or take another copy of the file",
            Self::Silent => "give a trace of a whole conversation",
            Self::NoFolder => "make the folder first, or choose another",
            Self::Io(error) => io_words::next_step(error),
        }
    }

    /// Sorts an error of opening `path` for reading.
    pub(super) fn opening(path: &Path, error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::Missing,
            _ if path.is_dir() => Self::Folder,
            _ => Self::Io(error),
        }
    }

    /// Sorts an error of creating a new file.
    pub(super) fn creating(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::AlreadyExists => Self::Exists,
            io::ErrorKind::NotFound => Self::NoFolder,
            _ => Self::Io(error),
        }
    }
}
