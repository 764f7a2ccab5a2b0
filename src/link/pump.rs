//! Moves bytes between an open line and the dialogue, and tells the dialogue what time it is.

use std::{io::ErrorKind, time::Duration};

use pintle_protocol::dialogue::{Connection, Counts, Dialogue, Event, Settings, Stage};
use tokio::time::timeout;

use super::{clearing::Clearing, device::Device, error::LinkError, line::Line, question::Request};
use crate::{
    clock::Clock,
    io_words,
    trace::{self, Event as Traced},
};

/// How long an answer is waited for at least when time is simulated, in µs of real time.
const SHORTEST_WAIT_US: u64 = 200_000;

/// How long is listened, in µs of real time, before simulated time is looked at again.
const LOOK_US: u64 = 20_000;

/// The dialogue with its line and clock.
#[derive(Debug)]
pub(super) struct Pump {
    line: Option<Line>,
    dialogue: Dialogue,
    /// What the line did not take yet.
    unsent: Vec<u8>,
    clock: Clock,
    traffic: Traffic,
    trace: Option<trace::Writer>,
}

/// Bytes that went over the line so far.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Traffic {
    /// To the adapter.
    pub sent: u64,
    /// From the adapter.
    pub received: u64,
}

impl Traffic {
    /// Both ways together.
    pub const fn total(self) -> u64 {
        self.sent + self.received
    }
}

impl Pump {
    /// A pump without a line yet. All that goes over the line is also kept in the trace.
    pub fn new(clock: Clock, settings: Settings, trace: Option<trace::Writer>) -> Self {
        Self {
            line: None,
            dialogue: Dialogue::new(settings),
            unsent: Vec::new(),
            clock,
            traffic: Traffic::default(),
            trace,
        }
    }

    /// Opens the line and begins the dialogue, for the first time or again.
    pub async fn open(&mut self, device: &Device, baud: Option<u32>) -> Result<(), LinkError> {
        self.line = Some(Line::open(device, baud).await?);
        self.unsent.clear();
        self.note(|| Traced::Opened(baud));
        self.dialogue.handle_opened(self.clock.now_us());
        Ok(())
    }

    /// Closes the line; whether it was still there. Only a closed device can come back under its old name.
    pub fn close(&mut self) -> bool {
        let was_open = self.line.take().is_some();
        if was_open {
            self.note(|| Traced::Lost("closed".to_owned()));
        }
        self.dialogue.handle_lost(self.clock.now_us());
        was_open
    }

    /// Waits for the connection, and tells how far it has come; `None` when `until_us` came first.
    pub async fn connected(
        &mut self,
        until_us: Option<u64>,
        mut tell: impl FnMut(Stage),
    ) -> Result<Option<Connection>, LinkError> {
        let mut told = None;
        loop {
            match self.dialogue.poll_event() {
                Some(Event::Connected(connection)) => return Ok(Some(connection)),
                Some(Event::SetupFailed(failure)) => return Err(LinkError::Setup(failure)),
                Some(_) => continue,
                None => {}
            }
            let stage = self.dialogue.stage();
            if stage != told {
                stage.into_iter().for_each(&mut tell);
                told = stage;
            }
            if self.go_on(until_us).await? {
                return Ok(None);
            }
        }
    }

    /// Whether a request can be made.
    pub fn is_ready(&self) -> bool {
        self.dialogue.is_ready()
    }

    /// Makes a request, if the dialogue is ready for one; whether it was.
    pub fn request(&mut self, request: &Request, expected_lines: Option<u8>) -> bool {
        let now_us = self.clock.now_us();
        self.dialogue
            .request(now_us, request.bytes(), expected_lines)
            .is_ok()
    }

    /// Sends what there is to send as far as the line takes it at once; the rest goes out with the next wait.
    pub fn send_now(&mut self) {
        if let Some(bytes) = self.dialogue.poll_transmit() {
            self.unsent.extend(bytes);
        }
        let Some(line) = &mut self.line else { return };
        if let Ok(count) = line.write_now(&self.unsent) {
            let sent: Vec<u8> = self.unsent.drain(..count).collect();
            self.went_out(sent);
        }
    }

    /// Sends the request that clears, if the dialogue is ready for it; whether it was.
    pub fn clear(&mut self, clearing: &Clearing) -> bool {
        let now_us = self.clock.now_us();
        self.dialogue
            .request(now_us, clearing.bytes(), None)
            .is_ok()
    }

    /// What happened before, without waiting for more.
    pub fn event_left(&mut self) -> Option<Event> {
        self.dialogue.poll_event()
    }

    /// What the dialogue counted so far.
    pub fn counts(&self) -> Counts {
        self.dialogue.counts()
    }

    /// Bytes that went over the line so far.
    pub const fn traffic(&self) -> Traffic {
        self.traffic
    }

    /// The next event, or `None` at `until_us`. Dropping the future loses nothing that was heard.
    ///
    /// # Errors
    /// [`LinkError::Lost`] when the line is gone.
    pub async fn next_event(&mut self, until_us: Option<u64>) -> Result<Option<Event>, LinkError> {
        loop {
            if let Some(event) = self.dialogue.poll_event() {
                return Ok(Some(event));
            }
            if self.go_on(until_us).await? {
                return Ok(None);
            }
        }
    }

    /// Sends what there is to send; without that, waits for what comes. Whether it came to `until_us`.
    async fn go_on(&mut self, until_us: Option<u64>) -> Result<bool, LinkError> {
        if let Some(bytes) = self.bytes_to_send() {
            self.send(bytes).await?;
            return Ok(false);
        }
        match self.clock {
            Clock::Real(_) => self.wait_really(until_us).await,
            Clock::Simulated(_) => self.wait_simulated(until_us).await,
        }
    }

    fn bytes_to_send(&mut self) -> Option<Vec<u8>> {
        if self.unsent.is_empty() {
            self.dialogue.poll_transmit()
        } else {
            Some(std::mem::take(&mut self.unsent))
        }
    }

    async fn send(&mut self, bytes: Vec<u8>) -> Result<(), LinkError> {
        let line = self.line.as_mut().ok_or_else(no_line)?;
        let written = line.write(&bytes).await;
        written.map_err(|error| self.lost(&error))?;
        self.went_out(bytes);
        Ok(())
    }

    fn went_out(&mut self, bytes: Vec<u8>) {
        self.traffic.sent += bytes.len() as u64;
        self.note(|| Traced::Out(bytes));
    }

    /// Waits for bytes until the dialogue's deadline or `until_us`; whether the latter is over.
    async fn wait_really(&mut self, until_us: Option<u64>) -> Result<bool, LinkError> {
        let now_us = self.clock.now_us();
        let deadline_us = self.dialogue.next_deadline();
        if deadline_us.is_some_and(|deadline_us| deadline_us <= now_us) {
            self.dialogue.handle_timeout(now_us);
            return Ok(false);
        }
        if until_us.is_some_and(|until_us| until_us <= now_us) {
            return Ok(true);
        }
        let wake_us = [deadline_us, until_us].into_iter().flatten().min();
        self.hear(wake_us.map(|wake_us| wake_us - now_us)).await?;
        Ok(false)
    }

    /// Simulated time stands still while an answer is awaited, or jumps when the answer is about to come: that wait is a
    /// real one. With nothing awaited, time moves on at once.
    async fn wait_simulated(&mut self, until_us: Option<u64>) -> Result<bool, LinkError> {
        match (self.dialogue.next_deadline(), until_us) {
            (None, None) => self.hear(None).await.map(|_| false),
            (None, Some(until_us)) => {
                self.clock.advance_to(until_us);
                Ok(true)
            }
            (Some(deadline_us), _) if self.dialogue.is_pausing() => {
                self.clock.advance_to(deadline_us);
                self.dialogue.handle_timeout(self.clock.now_us());
                Ok(false)
            }
            (Some(deadline_us), _) => {
                let mut left_us = deadline_us.saturating_sub(self.clock.now_us());
                while left_us > 0 && self.clock.now_us() < deadline_us {
                    if self.hear(Some(LOOK_US)).await? {
                        return Ok(false);
                    }
                    left_us = left_us.saturating_sub(LOOK_US);
                }
                if !self.hear(Some(SHORTEST_WAIT_US)).await? {
                    self.clock.advance_to(deadline_us);
                    self.dialogue.handle_timeout(self.clock.now_us());
                }
                Ok(false)
            }
        }
    }

    /// Hands on what comes within so many µs of real time; whether anything came.
    async fn hear(&mut self, longest_us: Option<u64>) -> Result<bool, LinkError> {
        let line = self.line.as_mut().ok_or_else(no_line)?;
        let mut buffer = [0; 512];
        let read = line.read(&mut buffer);
        let count = match longest_us {
            None => read.await,
            Some(longest_us) => match timeout(Duration::from_micros(longest_us), read).await {
                Ok(count) => count,
                Err(_) => return Ok(false),
            },
        };
        let count = count.map_err(|error| self.lost(&error))?;
        self.traffic.received += count as u64;
        let bytes = buffer.get(..count).unwrap_or_default();
        self.note(|| Traced::In(bytes.to_vec()));
        self.dialogue.handle_bytes(self.clock.now_us(), bytes);
        Ok(true)
    }

    /// The line is gone.
    fn lost(&mut self, error: &std::io::Error) -> LinkError {
        let words = match (error.raw_os_error(), error.kind()) {
            // A device that was pulled out: EIO, ENXIO or ENODEV, each with words that help nobody.
            (Some(5 | 6 | 19), _) => "device disconnected".to_owned(),
            (
                _,
                ErrorKind::ConnectionReset | ErrorKind::ConnectionAborted | ErrorKind::BrokenPipe,
            ) => "connection broken".to_owned(),
            (
                _,
                ErrorKind::TimedOut | ErrorKind::HostUnreachable | ErrorKind::NetworkUnreachable,
            ) => "network unreachable".to_owned(),
            _ => io_words::problem(error),
        };
        self.line = None;
        self.note(|| Traced::Lost(words.clone()));
        LinkError::Lost(words)
    }

    /// Keeps an event in the trace, if there is one.
    fn note(&self, event: impl FnOnce() -> Traced) {
        if let Some(trace) = &self.trace {
            trace.write(self.clock.now_us(), event());
        }
    }
}

fn no_line() -> LinkError {
    LinkError::Lost("device closed".to_owned())
}
