//! Service 01 and 02 parameter identifiers (PIDs): which there are and how their bytes become
//! numbers.

pub mod codes;
mod id;
pub mod readiness;
mod scaling;
pub mod support;
pub mod table;

pub use id::Pid;
pub use scaling::{Field, Presence, Quantity, Scaling};
