//! The job folder: one vehicle's visit as plain files that any other program can read, copy and keep.
//!
//! Nothing in a job is ever changed or overwritten by this program: every result gets a file of its own, so that two
//! terminals on one job, a pulled plug or a copied folder cannot lose anything. A file's name shows what it belongs to,
//! `before-2026-11-25-101500Z.capture.csv`: the side of the work, the time in UTC, the kind.

mod aside;
mod error;
mod filed;
mod folder;
mod side;
mod standing;
mod visit;
mod work;

pub use error::JobError;
pub use filed::Filed;
pub use folder::{COMPARISON, Folder, Kind};
pub use side::Side;
pub use standing::{Next, STEPS, Standing};
pub use visit::Visit;
pub use work::{Stage, Work};
