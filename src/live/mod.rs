//! The live screen: a glance says whether it records, whether what the engine does counts, what the corrections and
//! misfires are, what it looks like so far, and what is still missing.

mod history;
mod input;
mod journal;
mod judge;
mod key;
mod model;
mod playback;
mod replay;
#[cfg(test)]
mod sample;
mod scene;
mod show;
mod signals;
mod survey;
mod terminal;
mod theme;
mod typing;
mod view;
mod watch;

use std::time::Duration;

pub use model::Model;
pub use playback::SPEEDS;
pub use replay::{Pace, ReplayError, replay};
pub use theme::Theme;
pub use watch::{Wanted, Watched, watch};

/// Time between two frames.
const FRAME: Duration = Duration::from_millis(33);
