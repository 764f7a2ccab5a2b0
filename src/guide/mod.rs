//! The guided run: leads through the operation that a sound answer needs, and says of every second whether it counts.
//!
//! Logic alone: time comes from the readings, and whoever shows it draws [`Guidance`], a plain value.

pub mod feedback;
pub mod guidance;
mod place;
pub mod run;
mod shown;
pub mod step;
#[cfg(test)]
mod tests;

pub use feedback::{Feedback, Reason};
pub use guidance::{Against, Guidance, Progress, Status, StepState};
pub use run::{Run, reason_against};
