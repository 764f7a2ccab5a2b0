//! How well a prediction fits what was read, piece by piece.

pub mod bench;
pub mod breathing;
pub mod codes;
pub mod contrast;
pub mod drift;
pub mod filling;
pub mod fuel;
mod full_load;
pub mod misfires;
pub mod purge;
pub mod rail;
pub mod steps;
pub mod trims;
