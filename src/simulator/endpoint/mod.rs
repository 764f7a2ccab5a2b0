//! The virtual adapter where a program can open it: on a pseudo-terminal or a TCP port, in a thread of its own.

#[cfg(unix)]
mod pty;
mod serve;
mod tcp;

#[cfg(unix)]
pub use pty::open_pty;
pub use serve::Endpoint;
pub use tcp::open_tcp;

#[cfg(test)]
mod tests;
