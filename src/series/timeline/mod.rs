//! From readings at any time to one-second moments, without the readings that cannot be true.

pub mod course;
pub mod intake;
pub mod item;
pub mod moment;
pub mod outlier;
pub mod quantity;
