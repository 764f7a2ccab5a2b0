//! The screen on a capture.

use std::{io, path::Path};

use super::{
    FRAME,
    input::Input,
    key::{Action, Place},
    playback::Playback,
    scene::Source,
    show::{Show, Wish},
    signals::Signals,
    terminal::Screen,
    theme::Theme,
    view,
};
use crate::{capture::CaptureError, diagnose::Tables, vehicle::Vehicle};

/// Why a replay could not be shown to its end.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The terminal.
    #[error("the terminal cannot be used for a screen: {0}")]
    Terminal(#[from] io::Error),
}

/// Shows a capture until the person leaves. `vehicle` overrules what the capture says of the car.
///
/// # Errors
/// When the capture cannot be read, or there is no terminal.
pub fn replay(
    path: &Path,
    speed: f64,
    vehicle: Option<Vehicle>,
    tables: Tables,
    theme: Theme,
) -> Result<(), ReplayError> {
    let mut playback = Playback::open(path, speed)?;
    let vehicle = vehicle.or(playback.header().vehicle.clone());
    let source = Source::Recording(playback.shown());
    let mut show = Show::new(
        vehicle.unwrap_or_default(),
        tables,
        source,
        vec![Place::Replay],
    );
    let signals = Signals::listen()?;
    let mut screen = Screen::open()?;
    let input = Input::listen();
    loop {
        if playback.go_on()? {
            show.model = Some(playback.model().clone());
        }
        show.source = Source::Recording(playback.shown());
        show.judge();
        show.draw(|scene| screen.draw(|frame| view::draw(frame, scene, theme)))?;
        if signals.end() {
            return Ok(());
        }
        #[cfg(unix)]
        if signals.woken() {
            screen.renew()?;
        }
        let Some(event) = input.next(FRAME)? else {
            continue;
        };
        match show.on_event(&event) {
            Some(Wish::Do(Action::Leave)) => return Ok(()),
            Some(Wish::Do(Action::Pause)) => playback.pause(),
            #[cfg(unix)]
            Some(Wish::Do(Action::Suspend)) => screen.suspend()?,
            _ => {}
        }
    }
}
