//! Findings as people and programs read them.

pub mod bench;
mod bench_words;
pub mod chart;
pub mod comparison;
pub mod evidence_words;
pub mod json;
pub mod page;
mod steps;
pub mod terminal_page;
pub mod text;
mod warning_words;
pub mod words;

#[cfg(test)]
mod tests;
