//! Trouble codes: two bytes to text and back, what they mean, and the third byte of newer cars.

mod code;
pub mod failure_type;
mod meaning;

pub use code::TroubleCode;
pub(crate) use code::text_of_raw;
