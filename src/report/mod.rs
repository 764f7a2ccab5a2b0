//! Findings as people and programs read them.

pub mod bench;
pub mod comparison;
pub mod json;
pub mod text;
pub mod words;

#[cfg(test)]
mod tests;
