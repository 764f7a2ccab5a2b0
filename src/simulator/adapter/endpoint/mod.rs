//! An adapter or a trace where a program can open it: on a pseudo-terminal or a TCP port, in a thread of its own.

mod behind;
#[cfg(unix)]
mod pty;
mod serve;
mod tcp;

pub use behind::Behind;
#[cfg(unix)]
pub use pty::open_pty;
pub use serve::Endpoint;
pub use tcp::{open_tcp, open_tcp_at};

#[cfg(test)]
mod tests;
