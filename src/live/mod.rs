//! The live screen: a glance says whether it records, whether what the engine does counts, what the corrections and
//! misfires are, what it looks like so far, and what is still missing.

mod history;
mod journal;
mod judge;
mod key;
mod model;
mod playback;
mod replay;
mod scene;
mod show;
mod signals;
mod terminal;
mod theme;
mod view;
mod watch;

use std::{
    io,
    time::{Duration, Instant},
};

use crossterm::event::{self, Event};

pub use replay::{ReplayError, replay};
pub use theme::Theme;
pub use watch::{Wanted, Watched, watch};

/// Time between two frames.
const FRAME: Duration = Duration::from_millis(33);

/// The next thing that the terminal reports before this instant.
fn event_before(instant: Instant) -> io::Result<Option<Event>> {
    let left = instant.saturating_duration_since(Instant::now());
    event::poll(left)?.then(event::read).transpose()
}
