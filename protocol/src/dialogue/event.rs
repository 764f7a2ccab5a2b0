//! What the dialogue reports to its caller.

use std::fmt;

use super::supported::Supported;
use crate::{
    adapter::{Notice, Refusal},
    bus::{Message, Protocol, address::Address},
    service::Services,
};

/// Something that happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// The adapter is set up and the car answers: requests can be made.
    Connected(Connection),
    /// Set-up ended without a connection. The dialogue rests until it is opened again.
    SetupFailed(SetupFailure),
    /// The car answered the request.
    Answer(Answer),
    /// The request ended without an answer.
    NoAnswer(NoAnswer),
    /// Something went wrong and is being mended.
    LinkTrouble {
        /// What is done about it.
        step: RecoveryStep,
        /// What happened and what is done, in plain words.
        words: String,
    },
    /// The adapter started over by itself; its settings are being restored.
    Restarted {
        /// What the adapter said, and what to check.
        words: String,
    },
    /// After trouble, answers come again.
    Recovered,
    /// The car has left several requests in a row without an answer, although the adapter works.
    CarSilent {
        /// The adapter's words.
        notice: Notice,
        /// What happened and what to check, in plain words.
        words: String,
    },
    /// Controllers asked to wait until the longest wait was over, and gave no answer.
    CarKeepsWaiting {
        /// Which controllers, and what to do, in plain words.
        words: String,
    },
    /// All that can be done over this port was done: close it, open it again and say so.
    NeedReopen {
        /// What happened, in plain words.
        words: String,
    },
}

/// A connection from the adapter to the controllers.
#[derive(Debug, Clone, PartialEq)]
pub struct Connection {
    /// The adapter.
    pub adapter: AdapterInfo,
    /// Supply voltage at the plug in volts, if the adapter can measure it.
    pub voltage: Option<f64>,
    /// The car's bus.
    pub protocol: Protocol,
    /// The services that the engine controller answers.
    pub services: Services,
    /// Every controller that answered, the engine controller first.
    pub controllers: Vec<Controller>,
}

impl Connection {
    /// The engine controller: the one that supports short term fuel trim (01 06) and engine speed
    /// (01 0C), or if none does, the best guess.
    pub fn engine(&self) -> Option<&Controller> {
        self.controllers.first()
    }
}

/// What the adapter says about itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AdapterInfo {
    /// Name and version, in its own words.
    pub name: Option<String>,
    /// Settings that it refused, in plain words (`spaces off`).
    pub refused: Vec<&'static str>,
}

/// A controller and what it supports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Controller {
    /// Its address, unless the adapter does not show it.
    pub address: Option<Address>,
    /// Parameters of service 01, or of identifiers F4xx.
    pub parameters: Supported,
    /// Monitors of service 06, or of identifiers F6xx; empty on other buses than CAN, where service 06 has maker-specific
    /// content.
    pub monitors: Supported,
    /// Information types of service 09, or of identifiers F8xx.
    pub information: Supported,
}

/// A request that was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// What was asked.
    pub request: Vec<u8>,
    /// The positive answers, at least one.
    pub messages: Vec<Message>,
    /// Negative answers of other controllers.
    pub refusals: Vec<Refusal>,
    /// Lines that were dropped as damaged, even after asking again.
    pub damaged: usize,
    /// Lines that the answer took; the number to expect when the same is asked again.
    pub lines: usize,
    /// When it was asked, in the caller's microseconds.
    pub asked_at_us: u64,
    /// When the last byte came.
    pub answered_at_us: u64,
}

/// A request that was not answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoAnswer {
    /// What was asked.
    pub request: Vec<u8>,
    /// Why there is no answer.
    pub why: Why,
    /// When it was asked, in the caller's microseconds.
    pub asked_at_us: u64,
    /// When that was known.
    pub ended_at_us: u64,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    /// The adapter's words.
    Adapter(Notice),
    /// Controllers said no.
    Refused(Vec<Refusal>),
    /// Controllers asked to wait for longer than is waited.
    StillPending,
    /// Answers came, but all were damaged; the first damage, in plain words.
    Damaged(String),
    /// The adapter stopped answering or the port was lost.
    LinkLost,
}

impl fmt::Display for Why {
    /// The text of a capture's `none` row.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Adapter(notice) => notice.fmt(f),
            Self::Refused(refusals) => match refusals.first() {
                Some(refusal) => write!(f, "negative:{:02X}", refusal.code),
                None => f.write_str("negative"),
            },
            Self::StillPending => f.write_str("negative:78"),
            Self::Damaged(what) => write!(f, "damaged: {what}"),
            Self::LinkLost => f.write_str("link lost"),
        }
    }
}

/// How far the way to the car has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// The adapter is looked for and set up.
    Adapter,
    /// The car's bus is searched for.
    Bus,
    /// Controllers are asked what they support.
    Controllers,
}

/// Why there is no connection.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SetupFailure {
    /// Nothing at all came back.
    #[error("no answer")]
    AdapterSilent,
    /// It answers, but loses its settings again and again.
    #[error("the adapter keeps restarting")]
    AdapterRestarts,
    /// Bytes came back that are no text.
    #[error("the reply is not readable")]
    NotReadable,
    /// The device answers, but not as an adapter does.
    #[error("something answers, but it is not a diagnostic adapter (it said {received:?})")]
    NotAnAdapter {
        /// The first thing it said.
        received: String,
    },
    /// The adapter works, the car does not answer.
    #[error("the adapter works, but no controller answers ({notice})")]
    CarSilent {
        /// The adapter's words.
        notice: Notice,
        /// Supply voltage at the plug in volts: low or missing means no supply there.
        voltage: Option<f64>,
    },
    /// The car answers nothing but that it wants more time.
    #[error("the adapter works, but the car keeps asking to wait and does not answer")]
    CarKeepsWaiting,
    /// The car answers, but what comes cannot be read.
    #[error("the car answers, but the answer cannot be read ({line:?})")]
    AnswerNotReadable {
        /// The first line of it.
        line: String,
    },
}

/// What was counted since the dialogue began, as a measure of the link's quality.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Requests that were answered.
    pub answers: u64,
    /// Requests that ended without an answer.
    pub no_answers: u64,
    /// Lines and messages dropped as damaged.
    pub damaged: u64,
    /// Whole messages that answered something else.
    pub strays: u64,
    /// Lines without meaning and replies nobody asked for.
    pub noise: u64,
    /// Times the adapter started over by itself.
    pub restarts: u64,
    /// Steps of recovery taken.
    pub recovery_steps: u64,
}

/// A request was made while the dialogue was not ready for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the adapter is not ready for a request")]
pub struct NotReady;

/// The steps of recovery, mildest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RecoveryStep {
    /// Ask the same again.
    AskAgain,
    /// Send a line end alone, which stops whatever the adapter is doing.
    Flush,
    /// Make all settings again.
    ApplySettings,
    /// Restart the adapter and make all settings.
    SoftReset,
    /// Close the port and open it again.
    Reopen,
}

impl fmt::Display for RecoveryStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::AskAgain => "asking again",
            Self::Flush => "stopping the adapter",
            Self::ApplySettings => "repeating its settings",
            Self::SoftReset => "restarting the adapter",
            Self::Reopen => "opening the port again",
        })
    }
}
