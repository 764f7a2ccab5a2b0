//! Intervals and tests used by the judgement; each names its source.

pub mod correlation;
pub mod density;
pub mod log_sum;
pub mod poisson;
pub mod quantile;
#[cfg(test)]
mod reference;
pub mod regression;
