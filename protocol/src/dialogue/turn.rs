//! One turn of the conversation: something is said, and either a prompt or silence ends it. Never
//! is anything said while the adapter works, because a byte from us stops it.

use crate::adapter::{Command, PromptReader, RawReply};

/// How long is waited for what, in microseconds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// For the adapter to start over: 3 s; the self-test takes about one.
    pub reset_us: u64,
    /// For the adapter to take a setting: 1 s.
    pub setting_us: u64,
    /// For the search through all buses: 30 s; the slow ones take several seconds each.
    pub search_us: u64,
    /// For a slow bus to wake: 8 s; waking at 5 baud takes 2 to 3, and is tried twice.
    pub waking_us: u64,
    /// For an answer: 2 s; the adapter itself gives up after about one at most.
    pub answer_us: u64,
    /// For a controller that asked to wait: 5.5 s; ISO 14229-2 gives it 5.
    pub pending_us: u64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            reset_us: 3_000_000,
            setting_us: 1_000_000,
            search_us: 30_000_000,
            waking_us: 8_000_000,
            answer_us: 2_000_000,
            pending_us: 5_500_000,
        }
    }
}

impl Settings {
    /// How long silence may last after `command` was said.
    fn patience_us(&self, command: &Command) -> u64 {
        match command {
            Command::Reset | Command::SoftReset => self.reset_us,
            Command::Search(_) => self.search_us,
            Command::Request { .. } => self.answer_us,
            _ => self.setting_us,
        }
    }
}

/// Whatever keeps coming, a turn ends after this many times the wait that its bytes ask for.
const LONGEST_TURN: u64 = 3;

/// How a turn ended.
#[derive(Debug)]
pub(super) enum TurnEnd {
    /// A prompt came.
    Reply(RawReply),
    /// No prompt came in time; what came instead.
    Silence(RawReply),
}

/// Something heard up to a prompt.
#[derive(Debug)]
pub(super) enum Received {
    /// The reply to what was said last.
    Reply(Command, RawReply),
    /// A reply to nothing.
    Unasked(RawReply),
}

/// What is said and heard.
#[derive(Debug)]
pub(super) struct Transport {
    settings: Settings,
    reader: PromptReader,
    turn: Option<Turn>,
    to_send: Option<Vec<u8>>,
}

/// What was said last and until when its prompt is awaited.
#[derive(Debug)]
struct Turn {
    command: Command,
    started_us: u64,
    deadline_us: u64,
}

impl Transport {
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            reader: PromptReader::default(),
            turn: None,
            to_send: None,
        }
    }

    /// Begins a turn.
    pub fn send(&mut self, now_us: u64, command: Command) {
        let patience = self.settings.patience_us(&command);
        self.to_send = Some(command.bytes());
        self.turn = Some(Turn {
            command,
            started_us: now_us,
            deadline_us: now_us.saturating_add(patience),
        });
    }

    /// Forgets the turn and all that was heard.
    pub fn cancel(&mut self) {
        self.turn = None;
        self.to_send = None;
        self.reader.clear();
    }

    /// The bytes of a turn that has just begun. What came before it is no part of its reply.
    pub fn transmit(&mut self) -> Option<Vec<u8>> {
        let bytes = self.to_send.take()?;
        self.reader.clear();
        Some(bytes)
    }

    /// Takes bytes in.
    pub fn receive(&mut self, bytes: &[u8]) {
        self.reader.push(bytes);
    }

    /// The next thing that was heard whole. A prompt that came before we spoke answers nothing.
    pub fn next_received(&mut self) -> Option<Received> {
        let raw = self.reader.next_reply()?;
        let spoken = self.to_send.is_none();
        Some(match self.turn.take_if(|_| spoken) {
            Some(turn) => Received::Reply(turn.command, raw),
            None => Received::Unasked(raw),
        })
    }

    /// Bytes came without a prompt behind them: waits on for as long as the last of them ask for.
    pub fn prolong(&mut self, now_us: u64) {
        let Some(turn) = self.turn.as_mut().filter(|_| self.to_send.is_none()) else {
            return;
        };
        let patience = match said_to_wait(&self.reader, &turn.command, &self.settings) {
            Some(patience) => patience,
            None => self.settings.patience_us(&turn.command),
        };
        let limit = turn
            .started_us
            .saturating_add(patience.saturating_mul(LONGEST_TURN));
        turn.deadline_us = now_us.saturating_add(patience).min(limit);
    }

    /// When silence ends the turn.
    pub fn deadline_us(&self) -> Option<u64> {
        self.turn.as_ref().map(|turn| turn.deadline_us)
    }

    /// Ends the turn if its time is over; what was said and what came instead of a reply.
    pub fn end_in_silence(&mut self, now_us: u64) -> Option<(Command, RawReply)> {
        let turn = self.turn.take_if(|turn| turn.deadline_us <= now_us)?;
        let received = self.reader.partial();
        self.cancel();
        Some((turn.command, received))
    }
}

/// How long the words that came so far ask us to wait, if they do.
fn said_to_wait(received: &PromptReader, command: &Command, settings: &Settings) -> Option<u64> {
    let service = command.request().first()?;
    if received.partial_holds(&format!("7F{service:02X}78")) {
        Some(settings.pending_us)
    } else if received.partial_holds("BUSINIT") {
        Some(settings.waking_us)
    } else if received.partial_holds("SEARCHING") {
        Some(settings.search_us)
    } else {
        None
    }
}
