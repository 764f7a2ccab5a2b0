//! Trouble codes: two bytes to text and back.

mod code;

pub use code::TroubleCode;
pub(crate) use code::text_of_raw;
