//! Intervals and tests that the judgement rests on; each names its source.

pub mod correlation;
pub mod density;
pub mod log_sum;
pub mod poisson;
pub mod quantile;
#[cfg(test)]
mod reference;
pub mod regression;
