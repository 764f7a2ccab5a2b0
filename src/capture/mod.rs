//! The capture file: one recording, plain CSV with raw answers, readable for as long as there are spreadsheets.
