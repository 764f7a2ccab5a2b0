//! From single readings to what the judgement rests on: moments, labels, regions, corrections, misfire rates.

mod alike;
pub mod builder;
pub mod cell;
mod contrast;
mod correction;
mod counter;
pub mod course;
mod doubt;
mod drift;
pub mod estimate;
mod exposure;
mod facts;
mod filling;
mod full_load;
mod grid;
mod intake;
mod item;
pub mod label;
mod labeller;
mod misfire;
pub mod misfire_frame;
mod mixture;
mod moment;
mod operation;
mod outlier;
mod plausible;
mod purge;
mod quantity;
mod rail;
pub mod region;
pub mod relearn;
pub mod summary;
pub mod tank;
#[cfg(test)]
mod tests;
pub mod variation;
pub mod warm;
mod warnings;

pub use crate::observation::{self, Observation};
pub use builder::Builder;
