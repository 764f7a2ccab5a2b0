//! Why a job folder cannot be read or written, each with the next step.

use std::{io, path::PathBuf};

use crate::io_words;

/// Why a job folder cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The folder is no job.
    #[error("{}: there is no job.toml in this folder", .0.display())]
    NoJob(PathBuf),
    /// There is nothing of this name, or it is no folder.
    #[error("{}: there is no folder of this name", .0.display())]
    NoFolder(PathBuf),
    /// A job or something else is there already.
    #[error("{}: already exists and is never overwritten", .0.display())]
    Exists(PathBuf),
    /// A file of the job does not say what it should.
    #[error("{}: {problem}", path.display())]
    Format {
        /// The file.
        path: PathBuf,
        /// What is wrong, with line and column.
        problem: String,
    },
    /// The operating system refuses.
    #[error("{}: {}", path.display(), io_words::problem(error))]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What it says.
        error: io::Error,
    },
}

impl JobError {
    /// What the person can do now.
    pub fn next_step(&self) -> &'static str {
        match self {
            Self::NoJob(_) | Self::NoFolder(_) => {
                "give a folder made by `pintle job new`; `pintle job list` shows them"
            }
            Self::Exists(_) => "choose another folder",
            Self::Format { .. } => "correct that entry",
            Self::Io { error, .. } => io_words::next_step(error),
        }
    }
}
