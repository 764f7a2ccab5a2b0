//! The way to the car: ports and hosts, what to ask and when, and the pump that moves bytes.
//!
//! A [`Session`] connects over a [`Device`], then asks single questions, takes stock ([`Session::probe`]) or records
//! ([`Session::record`]). A [`Question`] can ask for nothing but reading; the one thing
//! that changes something in the car is [`Session::clear_codes`], in a file of its own.

mod answer_lines;
mod clear;
pub mod codes;
mod device;
mod disturbance;
mod error;
mod feed;
mod learned;
mod line;
pub mod maker_tests;
mod meeting;
mod outage;
mod pages;
mod plan;
mod poller;
pub mod probe;
mod pump;
mod quality;
mod question;
mod rate;
mod recording;
mod rows;
mod schedule;
pub mod serial;
mod session;
mod tcp;
mod trail;

pub use clear::{Before, ClearError, Cleared, Saved};
pub use device::{Device, LinkKind, Place};
pub use error::{LinkError, OpenError, look_after};
pub use feed::{Connected, Feed, News, Order, Remote};
pub use meeting::{Expected, MeetError};
pub use pages::Progress;
pub use quality::Quality;
pub use question::Question;
pub use recording::{Ending, RecordError, Recorded, Wish};
pub use session::{Reply, Session};
