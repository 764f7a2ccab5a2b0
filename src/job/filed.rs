//! A file of a job, as its name tells it.

use std::path::PathBuf;

/// A file of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filed {
    /// Where it is.
    pub path: PathBuf,
    /// What stands between side and kind in its name: the time it was made, `2026-11-25-101500`. Names given by hand may
    /// have anything there, or nothing. Sorting by it sorts by time.
    pub stamp: String,
}

impl Filed {
    /// Reads a name that begins with `what` and ends with one of the endings; `None` for any other.
    pub(super) fn of(path: PathBuf, what: &str, endings: &[&str]) -> Option<Self> {
        let name = path.file_name()?.to_str()?;
        let rest = name.strip_prefix(what)?;
        let stamp = endings
            .iter()
            .find_map(|ending| rest.strip_suffix(ending))?;
        if !(stamp.is_empty() || stamp.starts_with('-')) {
            return None;
        }
        let stamp = stamp.trim_start_matches('-').to_owned();
        Some(Self { path, stamp })
    }

    /// The file's name alone.
    pub fn name(&self) -> String {
        let name = self.path.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }
}
