//! One turn of the conversation: something is said, and either a prompt or silence ends it.

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

/// A turn never takes longer than this many times the longest wait, whatever keeps coming.
const LONGEST_TURN: u64 = 2;

/// How a turn ended.
#[derive(Debug)]
pub(super) enum TurnEnd {
    /// A prompt came.
    Reply(RawReply),
    /// No prompt came in time; what came instead.
    Silence(RawReply),
}

/// What was said last and until when its prompt is awaited.
#[derive(Debug)]
pub(super) struct Turn {
    /// What was said.
    pub command: Command,
    /// When silence ends the turn.
    pub deadline_us: u64,
    limit_us: u64,
}

impl Turn {
    pub fn new(command: Command, now_us: u64, settings: &Settings) -> Self {
        let patience = match &command {
            Command::Reset | Command::SoftReset => settings.reset_us,
            Command::Search => settings.search_us,
            Command::Request { .. } => settings.answer_us,
            _ => settings.setting_us,
        };
        Self {
            command,

            deadline_us: now_us.saturating_add(patience),
            limit_us: now_us.saturating_add(settings.search_us.saturating_mul(LONGEST_TURN)),
        }
    }

    /// Bytes came: waits on for as long as what they say may take, up to the limit of a turn.
    pub fn prolong(&mut self, now_us: u64, heard: &PromptReader, settings: &Settings) {
        let waiting = match self.command.request().first() {
            Some(service) => heard.partial_holds(&format!("7F{service:02X}78")),
            None => false,
        };
        let patience = if waiting {
            settings.pending_us
        } else if heard.partial_holds("BUSINIT") {
            settings.waking_us
        } else if heard.partial_holds("SEARCHING") {
            settings.search_us
        } else {
            settings.setting_us
        };
        let deadline = now_us.saturating_add(patience);
        self.deadline_us = self.deadline_us.max(deadline).min(self.limit_us);
    }
}
