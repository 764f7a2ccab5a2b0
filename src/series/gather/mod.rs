//! What is gathered from the moments: means and rates with their standard errors, by region, bank and cylinder.

pub mod cell;
pub mod confirmation;
pub mod contrast;
pub mod counter;
pub mod drift;
pub mod estimate;
pub mod exposure;
pub mod facts;
pub mod fuel_trim;
pub mod full_load;
pub mod grid;
pub mod misfire;
pub mod misfire_frame;
pub mod operation;
pub mod purge;
pub mod rail;
pub mod refuel;
