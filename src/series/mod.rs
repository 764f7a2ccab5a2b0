//! From single readings to what the judgement rests on: one-second moments (`timeline/`), whether each counts and where it
//! belongs (`label/`), and what is gathered from those that do (`gather/`): fuel trims, misfire rates, pressures, all in one
//! [`summary::Summary`].

pub mod builder;
pub mod gather;
pub mod label;
pub mod summary;
pub mod tank;
#[cfg(test)]
mod tests;
pub mod timeline;
pub mod variation;
pub mod warning;
mod warnings;

pub use crate::observation::{self, Observation};
pub use builder::Builder;
