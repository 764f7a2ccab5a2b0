//! What is gathered from the moments: means and rates with their standard errors, by region, bank and cylinder.

pub mod cell;
pub(super) mod confirmation;
pub(super) mod contrast;
pub(super) mod counter;
pub(super) mod drift;
pub mod estimate;
pub(super) mod exposure;
pub(super) mod facts;
pub(super) mod fuel_trim;
pub(super) mod full_load;
pub(super) mod grid;
pub(super) mod misfire;
pub mod misfire_frame;
pub(super) mod operation;
pub(super) mod purge;
pub(super) mod rail;
pub(super) mod refuel;
