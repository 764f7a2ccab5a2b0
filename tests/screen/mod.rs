//! Screens of the program, seen as a person at a terminal sees them.

mod golden;
mod hostile;
mod replay;
mod terminal;
mod watch;

pub use terminal::{Terminal, keys};
