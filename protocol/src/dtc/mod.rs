//! Trouble codes: two bytes to text and back, and what they mean.

mod code;
mod meaning;

pub use code::TroubleCode;
pub(crate) use code::text_of_raw;
