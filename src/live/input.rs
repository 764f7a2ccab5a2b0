//! Keys, pastes and new sizes as the terminal reports them, waited for on a thread of their own.
//!
//! The terminal library never comes back from its waiting once the terminal is closed, whatever time it was given. On
//! this thread that holds up nothing: the loop hears of the closing by a signal, or by the drawing that fails.

use std::{
    io,
    sync::mpsc::{Receiver, RecvTimeoutError, channel},
    thread,
    time::Duration,
};

use crossterm::event::{self, Event};

/// What the terminal reports, in its order.
#[derive(Debug)]
pub struct Input {
    events: Receiver<Event>,
}

impl Input {
    /// Begins to listen; once in a program.
    pub fn listen() -> Self {
        let (report, events) = channel();
        thread::spawn(move || {
            while let Ok(event) = event::read() {
                if report.send(event).is_err() {
                    break;
                }
            }
        });
        Self { events }
    }

    /// The next report; `None` when there was none for so long.
    ///
    /// # Errors
    /// When the terminal cannot be read any more.
    pub fn next(&self, longest: Duration) -> io::Result<Option<Event>> {
        match self.events.recv_timeout(longest) {
            Ok(event) => Ok(Some(event)),
            Err(RecvTimeoutError::Timeout) => Ok(None),
            Err(RecvTimeoutError::Disconnected) => Err(io::ErrorKind::UnexpectedEof.into()),
        }
    }
}
