//! A file of a job, described by its name.

use std::{
    cmp::Ordering,
    path::{Path, PathBuf},
};

use jiff::Timestamp;

use crate::stamp::Stamp;

/// A file of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filed {
    /// Where it is.
    pub path: PathBuf,
    /// When it was made, to the second, as far as its name or its content tells; the beginning of all times where neither
    /// does.
    pub at: Timestamp,
    /// What stands between side and kind in its name: `2026-11-25-101500Z`. Names given by hand may have anything there, or
    /// nothing.
    stamp: String,
}

impl Filed {
    /// Reads a name that begins with `what` and ends with one of the endings; `None` for any other. Where the name does
    /// not hold the moment, `inside` reads it from the file's content.
    pub(super) fn of(
        path: PathBuf,
        what: &str,
        endings: &[&str],
        inside: impl FnOnce(&Path) -> Option<Timestamp>,
    ) -> Option<Self> {
        let name = path.file_name()?.to_str()?;
        let rest = name.strip_prefix(what)?;
        let stamp = endings
            .iter()
            .find_map(|ending| rest.strip_suffix(ending))?;
        if !(stamp.is_empty() || stamp.starts_with('-')) {
            return None;
        }
        let stamp = stamp.trim_start_matches('-').to_owned();
        let at = match Stamp::of(&stamp) {
            Some(Stamp::Moment(moment)) => Some(moment),
            // names of before, and of people, tell the clock of a place that is not known
            other => inside(&path).or_else(|| other?.moment()),
        };
        let whole = |at: Timestamp| Timestamp::from_second(at.as_second()).ok();
        let at = at.and_then(whole).unwrap_or(Timestamp::MIN);
        Some(Self { path, at, stamp })
    }

    /// Sorts by time; what was made within one second by the number in its name.
    pub(super) fn order(&self, other: &Self) -> Ordering {
        (self.at, &self.stamp).cmp(&(other.at, &other.stamp))
    }

    /// The file's name alone.
    pub fn name(&self) -> String {
        let name = self.path.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }
}
