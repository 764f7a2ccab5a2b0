//! From readings at any time to one-second moments, without the readings that cannot be true.

pub mod course;
pub(super) mod intake;
pub(super) mod item;
pub(super) mod moment;
pub(super) mod outlier;
pub(super) mod quantity;
