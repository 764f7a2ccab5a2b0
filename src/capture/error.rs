//! Why a capture cannot be read or written, each with the next step.

use std::{io, path::Path};

use crate::io_words;

/// Why a capture cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// No file of that name.
    #[error("there is no such file")]
    Missing,
    /// A folder stands where a file was expected.
    #[error("this is a folder, not a file")]
    Folder,
    /// A file of that name is there already.
    #[error("the file already exists and is never overwritten")]
    Exists,
    /// The folder of a new capture is missing.
    #[error("there is no such folder")]
    NoFolder,
    /// Left by a program that was killed before the file was whole, or still being written.
    #[error("this file is unfinished, left by an import or export that was stopped")]
    Unfinished,
    /// Nothing in it.
    #[error("the file is empty; a capture begins with `# capture 1`")]
    Empty,
    /// It ends inside the header.
    #[error("the file ends inside the header, before the first row")]
    Truncated,
    /// What it holds is not what was written.
    #[error("the compressed file is damaged: its checksum is wrong")]
    BrokenCompression,
    /// Not text.
    #[error("this is a binary file; a capture is text that begins with `# capture 1`")]
    Binary,
    /// Text of another kind.
    #[error("this is not a capture: expected `# capture 1` on line 1, found {0:?}")]
    NotACapture(String),
    /// A table with column names, as other loggers write it.
    #[error("this looks like a table from another logger, with the columns {0}")]
    ForeignTable(String),
    /// A capture of a format version that this program does not know.
    #[error("this is a capture of version {0}; this program reads version 1")]
    LaterVersion(u64),
    /// The operating system refused.
    #[error("{}", io_words::problem(.0))]
    Io(#[from] io::Error),
}

impl CaptureError {
    /// What the person can do now.
    pub fn next_step(&self) -> &'static str {
        match self {
            Self::Missing => "check the name and the folder",
            Self::Folder => "choose a file in it",
            Self::Exists => "choose another name or move the old file away",
            Self::NoFolder => "make the folder first, or choose another",
            Self::Unfinished => "run that command again, then delete this file",
            Self::BrokenCompression => "take another copy of the file",
            Self::Empty | Self::Truncated => "record again, or take another copy of the file",
            Self::Binary | Self::NotACapture(_) => {
                "give a `.capture.csv` or `.capture.csv.gz` file"
            }
            Self::ForeignTable(_) => "convert it with `pintle import FILE`",
            Self::LaterVersion(_) => "use a newer version of this program",
            Self::Io(error) => io_words::next_step(error),
        }
    }

    /// Sorts an error of opening `path` for reading.
    pub(crate) fn opening(path: &Path, error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::Missing,
            _ if path.is_dir() => Self::Folder,
            _ => Self::Io(error),
        }
    }

    /// Sorts an error of creating a new file.
    pub(crate) fn creating(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::AlreadyExists => Self::Exists,
            io::ErrorKind::NotFound => Self::NoFolder,
            _ => Self::Io(error),
        }
    }
}
