//! From single readings to what the judgement rests on: moments, labels, regions, corrections, misfire rates.

pub mod label;
pub mod observation;
pub mod region;
pub mod summary;
