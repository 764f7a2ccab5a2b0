//! The conversation with adapter and car as a state machine: bytes and times in; bytes, events and
//! deadlines out.
//!
//! The caller owns port and clock. It opens the port and says so ([`Dialogue::handle_opened`]),
//! then in a loop: sends what [`Dialogue::poll_transmit`] gives, takes what
//! [`Dialogue::poll_event`] gives, waits for bytes until [`Dialogue::next_deadline`], and hands on
//! either the bytes or the time-out. When [`Dialogue::is_ready`], it may ask with
//! [`Dialogue::request`]; each request ends in exactly one [`Event::Answer`] or
//! [`Event::NoAnswer`].

mod discovery;
mod event;
mod exchange;
mod machine;
mod phase;
mod recovery;
mod session;
mod setup;
mod stalled;
mod supported;
mod turn;

pub use event::{
    AdapterInfo, Answer, Connection, Controller, Counts, Event, NoAnswer, NotReady, RecoveryStep,
    SetupFailure, Stage, Why,
};
pub use machine::Dialogue;
pub use supported::Supported;
pub use turn::Settings;
