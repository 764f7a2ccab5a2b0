//! A capture read through beside the screen: its length, its marks, and copies of the model to go on from, so that any
//! place of a long recording is there at once.

use std::{
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    thread,
};

use super::model::Model;
use crate::capture::{Bookmark, CaptureError, Kind, Reader};

/// Marks beyond so many are neither drawn nor gone to.
const MOST_MARKS: usize = 10_000;

/// How densely copies are left.
#[derive(Debug, Clone, Copy)]
pub struct Density {
    /// Bytes of the (uncompressed) file between two copies, to begin with.
    pub bytes: u64,
    /// Copies kept; beyond them every second one goes, and the next ones are left half as densely.
    pub most: usize,
}

impl Density {
    /// Short enough to read on from a copy within a frame or two; a copy is about a third of a megabyte at most.
    pub const USUAL: Self = Self {
        bytes: 1 << 20,
        most: 100,
    };
}

/// A place to go on from.
#[derive(Debug, Clone)]
pub struct Checkpoint {
    /// What the rows before it say.
    pub model: Model,
    /// Where the next row stands.
    pub place: Bookmark,
}

/// What is known of the capture so far.
#[derive(Debug, Default)]
struct Known {
    checkpoints: Vec<Checkpoint>,
    marks_us: Vec<u64>,
    read_us: u64,
    is_through: bool,
}

impl Known {
    fn mark(&mut self, t_us: u64) {
        if self.marks_us.len() < MOST_MARKS {
            self.marks_us.push(t_us);
        }
    }
}

/// The reading and what it has found.
#[derive(Debug, Clone)]
pub struct Survey {
    known: Arc<Mutex<Known>>,
}

impl Survey {
    /// Begins to read the capture through, on a thread that ends with the survey's last owner.
    pub fn begin(path: PathBuf, density: Density) -> Self {
        let survey = Self {
            known: Arc::default(),
        };
        let own = survey.clone();
        thread::spawn(move || {
            // what cannot be read the screen hears itself when it gets there
            let _ = own.read(&path, density);
            own.known().is_through = true;
        });
        survey
    }

    fn read(&self, path: &Path, density: Density) -> Result<(), CaptureError> {
        let mut reader = Reader::open(path)?;
        let mut model = Model::new(reader.header(), &[]);
        let mut every_bytes = density.bytes;
        let mut next_at = reader.bytes_read() + every_bytes;
        while let Some(row) = reader.next_row()? {
            if row.kind == Kind::Mark {
                self.known().mark(row.t_us);
            }
            model.take(&row);
            if reader.bytes_read() < next_at {
                continue;
            }
            let mut known = self.known();
            known.read_us = model.t_us();
            known.checkpoints.push(Checkpoint {
                model: model.clone(),
                place: reader.place(),
            });
            if known.checkpoints.len() > density.most {
                thin_out(&mut known.checkpoints);
                every_bytes *= 2;
            }
            next_at = reader.bytes_read() + every_bytes;
            if Arc::strong_count(&self.known) == 1 {
                break;
            }
        }
        self.known().read_us = model.t_us();
        Ok(())
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Time up to which the capture was read, µs.
    pub fn read_us(&self) -> u64 {
        self.known().read_us
    }

    /// Whether it was read to its end.
    pub fn is_through(&self) -> bool {
        self.known().is_through
    }

    /// Times of the marks found so far, µs.
    pub fn marks_us(&self) -> Vec<u64> {
        self.known().marks_us.clone()
    }

    /// The latest checkpoint that is later than `after_us` and not later than `until_us`.
    pub fn checkpoint(&self, after_us: Option<u64>, until_us: u64) -> Option<Checkpoint> {
        let known = self.known();
        let count = known
            .checkpoints
            .partition_point(|checkpoint| checkpoint.model.t_us() <= until_us);
        let latest = known.checkpoints.get(count.checked_sub(1)?)?;
        let is_later = after_us.is_none_or(|after_us| latest.model.t_us() > after_us);
        is_later.then(|| latest.clone())
    }
}

/// Leaves the first, the third and so on.
fn thin_out(checkpoints: &mut Vec<Checkpoint>) {
    let mut stays = false;
    checkpoints.retain(|_| {
        stays = !stays;
        stays
    });
}
