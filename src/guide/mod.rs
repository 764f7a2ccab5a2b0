//! The guided run: leads through the operation that a reliable diagnosis needs, and states of every second whether it
//! counts.
//!
//! Logic only: time comes from the readings, and the screens draw [`Guidance`], a plain value.

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
