//! SAE J1979 diagnostics through a serial AT-command adapter: bytes and their meanings.
//!
//! This package does no I/O, starts no task and reads no clock: bytes go in, values come out. It
//! never panics, whatever the bytes are; what it does not know it keeps raw.
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing
    )
)]

pub mod adapter;
pub mod bus;
pub mod dialogue;
pub mod dtc;
pub mod error;
pub mod item;
pub mod monitor;
pub mod pid;
pub mod service;
pub mod unit;

pub use bus::address::Address;
pub use error::{DecodeError, Found};
pub use item::Item;
pub use pid::Pid;
pub use unit::Unit;
