//! The way to the car: ports and hosts, what to ask and when, and the pump that moves bytes.
//!
//! A [`Session`] connects over a [`Device`], then asks single questions, takes stock ([`Session::probe`]) or records
//! ([`Session::record`]). A [`Question`] can ask for nothing but reading; the one thing
//! that changes something in the car is [`Session::clear_codes`], in a file of its own.

mod answer_lines;
mod clear;
mod clearing;
pub mod codes;
mod device;
mod device_identity;
mod disturbance;
mod error;
mod feed;
mod line;
pub mod manufacturer_tests;
mod meeting;
mod outage;
mod plan;
mod poller;
pub mod probe;
mod pump;
mod quality;
mod question;
mod quirks;
mod rate;
mod recording;
mod row_sink;
mod rows;
mod schedule;
pub mod serial;
mod session;
mod tcp;

pub use clear::{Before, ClearError, Cleared};
pub use clearing::Saved;
pub use device::{Device, LinkKind, Target};
pub use error::{LinkError, OpenError, look_after};
pub use feed::{Connected, Feed, FeedConfig, FeedEvent, FeedHandle};
pub use meeting::{Expected, MeetError};
pub use quality::Quality;
pub use question::Question;
pub use recording::{Ending, RecordError, Recorded, RecordingRequest};
pub use row_sink::Progress;
pub use session::{Reply, Session};
