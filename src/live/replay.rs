//! The screen on a capture.

use std::{
    io,
    path::Path,
    time::{Duration, Instant},
};

use super::{
    FRAME,
    input::Input,
    key::{Action, KeyContext},
    playback::Playback,
    scene::Source,
    show::{KeyRequest, Show},
    signals::Signals,
    terminal::Screen,
    theme::Theme,
    view,
};
use crate::{capture::CaptureError, diagnose::Tables, io_words, vehicle::Vehicle};

/// Why a replay could not be shown to its end.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The terminal.
    #[error("the terminal cannot be used for a screen: {}", io_words::problem(.0))]
    Terminal(#[from] io::Error),
}

/// Longest time that a frame is taken to have lasted: after a stop by the shell it goes on where it stood.
const LONGEST_FRAME: Duration = Duration::from_secs(1);

/// How a capture is to be played.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    /// Seconds of the recording in a second, within [`SPEEDS`](super::SPEEDS).
    pub speed: f64,
    /// Where to begin, µs after the first row.
    pub from_us: u64,
}

/// Shows a capture until the person leaves. `vehicle` overrules what the capture says of the car.
///
/// # Errors
/// When the capture cannot be read, or there is no terminal.
pub fn replay(
    path: &Path,
    pace: Pace,
    vehicle: Option<Vehicle>,
    tables: Tables,
    theme: Theme,
) -> Result<(), ReplayError> {
    let mut playback = Playback::open(path, pace.speed)?;
    if pace.from_us > 0 {
        playback.go_from_begin(pace.from_us);
    }
    let vehicle = vehicle.or(playback.header().vehicle.clone());
    let source = Source::Recording(playback.shown());
    let mut show = Show::new(
        vehicle.unwrap_or_default(),
        tables,
        source,
        vec![KeyContext::Replay],
    );
    let signals = Signals::listen()?;
    let mut screen = Screen::open()?;
    let input = Input::listen();
    let mut moved = Instant::now();
    let mut is_new = true;
    loop {
        let now = Instant::now();
        playback.go_on((now - moved).min(LONGEST_FRAME))?;
        moved = now;
        let shown = playback.shown();
        let at_us = shown.at_us;
        let source = Source::Recording(shown);
        is_new |= show.source != source;
        show.source = source;
        show.now_us = at_us;
        is_new |= show.judge(Some(playback.model()));
        if is_new {
            show.draw(Some(playback.model()), |scene| {
                screen.draw(|frame| view::draw(frame, scene, theme))
            })?;
        }
        if signals.end() {
            return Ok(());
        }
        let event = input.next(FRAME)?;
        is_new = event.is_some();
        if signals.woken() {
            screen.renew()?;
            is_new = true;
        }
        match event.and_then(|event| show.on_event(&event)) {
            Some(KeyRequest::Do(Action::Leave | Action::Interrupt)) => return Ok(()),
            Some(KeyRequest::Do(Action::Suspend)) => screen.suspend()?,
            Some(KeyRequest::Do(action)) => obey(&mut playback, action),
            Some(KeyRequest::GoTo(t_us)) => playback.go_to(t_us),
            Some(KeyRequest::Write(_)) | None => {}
        }
    }
}

/// Does what a key asks of the playing.
fn obey(playback: &mut Playback, action: Action) {
    match action {
        Action::Pause => playback.pause(),
        Action::Go(seconds) => playback.go(seconds),
        Action::Step(seconds) => playback.step(seconds),
        Action::PreviousMark => playback.previous_mark(),
        Action::NextMark => playback.next_mark(),
        Action::Begin => playback.begin(),
        Action::End => playback.end(),
        Action::Faster => playback.speed_up(2.0),
        Action::Slower => playback.speed_up(0.5),
        Action::Mark
        | Action::Time
        | Action::Help
        | Action::Leave
        | Action::Interrupt
        | Action::Suspend
        | Action::Skip
        | Action::Repeat
        | Action::Back => {}
    }
}
