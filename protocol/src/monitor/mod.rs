//! Service 06 monitor results: identifiers, units and scalings, misfire counters.

mod id;
pub mod scaling;

pub use id::{misfire_cylinder, name};
