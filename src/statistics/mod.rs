//! Intervals and tests that the judgement rests on; each names its source.

pub mod correlation;
pub mod log_sum;
pub mod poisson;
#[cfg(test)]
mod reference;
pub mod regression;
