//! The live screen for long: what it costs, whether its memory stays flat, whether a record is missed.
//!
//! The program runs on a terminal of its own, watches and records; the virtual adapter's own log of what went over the bus
//! is held against the capture. First in real time at the fullest rate that a line gives, for the cost; then an hour's
//! worth of requests from an adapter that answers at once, for the memory. `cargo bench --bench soak -- 60` watches 60 s in
//! real time.

#![allow(
    missing_docs,
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout
)]

#[cfg(target_os = "linux")]
#[path = "../harness.rs"]
mod harness;
#[cfg(target_os = "linux")]
#[path = "soak_on_linux.rs"]
mod soak_on_linux;

fn main() {
    #[cfg(target_os = "linux")]
    soak_on_linux::run();
    #[cfg(not(target_os = "linux"))]
    println!("the soak runs on Linux");
}
