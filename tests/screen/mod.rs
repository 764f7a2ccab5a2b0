//! Screens of the program, seen as a person at a terminal sees them.

mod replay;
mod terminal;

pub use terminal::Terminal;
