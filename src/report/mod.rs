//! Findings as people and programs read them.
