//! The serial adapter's language: what we say to it and what it says back.

pub mod command;
mod damage;
mod headerless;
mod length;
pub mod notice;
pub mod prompt;
pub mod reply;

pub use command::Command;
pub use damage::Damage;
pub use notice::Notice;
pub use prompt::{PromptReader, RawReply};
pub use reply::{Form, Refusal, Reply};
