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

pub use replay::{ReplayError, replay};
pub use theme::Theme;
