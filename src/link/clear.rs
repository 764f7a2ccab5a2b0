//! Clearing codes: the only thing in this program that changes anything in a car.
//!
//! One function sends the one request, [`Session::clear_codes`], and it wants a [`Saved`]: what the car said before, kept
//! in a file that is complete and on the disk. Only the command `codes --clear` calls it.

use std::path::Path;

use pintle_protocol::{
    Address, Pid,
    adapter::Refusal,
    dialogue::{Answer, Event, NoAnswer, Why},
    service::answer::{self, Answer as Meaning},
};

use super::{
    clearing::{Clearing, Saved},
    codes::Codes,
    device::LinkKind,
    error::{LinkError, look_after},
    plan,
    question::Question,
    rows,
    session::{Reply, Session},
};
use crate::capture::{CaptureError, Header, Row, Writer};

/// From this supply voltage on something charges the battery; one at rest stays below 13 (V, common practice).
const CHARGING_V: f64 = 13.2;

/// Service 01 04 … of trims and status: what cannot be read of these must not be cleared.
const TRIMS: std::ops::RangeInclusive<u8> = 0x06..=0x09;

/// What the car said just before its codes are cleared.
#[derive(Debug)]
pub struct Before {
    codes: Codes,
    replies: Vec<Reply>,
    began_us: u64,
    header: Header,
}

/// What became of the request to clear.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cleared {
    /// Controllers that have cleared, by address.
    pub accepted: Vec<Option<Address>>,
    /// Controllers that refused.
    pub refused: Vec<Refusal>,
    /// Controllers of this car that said nothing to it.
    pub silent: Vec<Address>,
    /// Why no answer came at all, in a few words: then it is not known whether any controller has cleared.
    pub no_answer: Option<String>,
}

/// Why nothing was cleared.
#[derive(Debug, thiserror::Error)]
pub enum ClearError {
    /// The way to the car.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The engine turns.
    #[error("the engine is running ({rpm:.0} rpm)")]
    EngineRuns {
        /// Its speed.
        rpm: f64,
    },
    /// The engine's speed is not known, but the battery is being charged.
    #[error(
        "engine speed cannot be read, and at {volts:.1} V the battery is being charged, as by a running engine"
    )]
    Charging {
        /// Supply voltage at the plug.
        volts: f64,
    },
    /// Neither the engine's speed nor the supply voltage is known.
    #[error("neither engine speed nor supply voltage can be read, so the engine may be running")]
    EngineNotKnown,
    /// Something that has to be saved could not be read.
    #[error("something that must be saved first could not be read ({what}: {why})")]
    NotRead {
        /// The request.
        what: String,
        /// Why there is no answer.
        why: String,
    },
}

impl ClearError {
    /// What the person can do now about an adapter that is reached so.
    pub fn next_step(&self, kind: LinkKind) -> String {
        match self {
            Self::Link(error) => error.next_step(kind),
            Self::Capture(error) => error.next_step().to_owned(),
            Self::EngineRuns { .. } => {
                "stop the engine, turn the ignition on without starting, and try again".to_owned()
            }
            Self::Charging { .. } => {
                "stop the engine or disconnect the charger, turn the ignition on, wait a minute, and try again"
                    .to_owned()
            }
            Self::EngineNotKnown => {
                "stop the engine, turn the ignition on, and try again with an adapter that measures voltage"
                    .to_owned()
            }
            Self::NotRead { .. } => format!("{} and try again", look_after(kind)),
        }
    }
}

impl Before {
    /// Codes, lamp and freeze frame.
    pub const fn codes(&self) -> &Codes {
        &self.codes
    }

    /// Writes all of it into a new capture, and returns when the disk has it.
    ///
    /// # Errors
    /// When there is a file of that name, or it cannot be written: then nothing must be cleared.
    pub fn save(&self, path: &Path) -> Result<Saved, CaptureError> {
        let mut writer = Writer::create(path, &self.header)?;
        writer.write(&Row::mark(0, "before clearing codes"))?;
        for reply in &self.replies {
            rows::of_reply(reply, |row| {
                writer.write(&Row {
                    t_us: row.t_us.saturating_sub(self.began_us),
                    ..row
                })
            })?;
        }
        Saved::finish(writer)
    }
}

impl Session {
    /// Reads once all that clearing would lose: codes, freeze frame, trims, misfire counters, readiness, and everything
    /// else that a recording asks for.
    ///
    /// # Errors
    /// When the engine runs, when the link is lost, and when something that clearing would lose cannot be read.
    pub async fn read_before_clearing(&mut self) -> Result<Before, ClearError> {
        self.check_engine_stands().await?;
        let began_us = self.clock.now_us();
        let header = self.header(None);
        let mut replies = Vec::new();
        let codes = self.codes_and_readings(&mut replies).await?;
        let lost = replies.iter().find_map(not_read);
        let unread = lost.or_else(|| stored_missing(&codes));
        match unread {
            Some((what, why)) => Err(ClearError::NotRead { what, why }),
            None => Ok(Before {
                codes,
                replies,
                began_us,
                header,
            }),
        }
    }

    async fn codes_and_readings(&mut self, replies: &mut Vec<Reply>) -> Result<Codes, LinkError> {
        let codes = self.codes_with_replies(replies).await?;
        let is_can = self.connection().protocol.is_can();
        let services = self.connection().services;
        let engine = self.connection().engine();
        let wanted = engine.map(|engine| plan::recording(engine, is_can, services));
        for wanted in wanted.unwrap_or_default() {
            if !is_among_codes(wanted.question) {
                self.ask_into(wanted.question, replies).await?;
            }
        }
        Ok(codes)
    }

    /// Sends the request to clear, once; whatever happens afterwards, it is not sent again.
    ///
    /// # Errors
    /// When nothing was sent: the engine runs, or the link was lost before.
    pub async fn clear_codes(&mut self, saved: Saved) -> Result<Cleared, ClearError> {
        self.check_engine_stands().await?;
        let clearing = Clearing::new(saved, self.connection().services);
        let mut sent = false;
        loop {
            if !sent && self.pump.is_ready() {
                sent = self.pump.clear(&clearing);
            }
            match self.pump.next_event(None).await {
                Ok(Some(Event::Answer(answer))) if sent => return Ok(self.cleared(answer)),
                Ok(Some(Event::NoAnswer(none))) if sent => return Ok(self.not_answered(none)),
                Ok(Some(Event::NeedReopen { words })) => return self.lost(sent, words),
                Err(LinkError::Lost(words)) => return self.lost(sent, words),
                Err(error) => return Err(error.into()),
                Ok(_) => {}
            }
        }
    }

    fn cleared(&self, answer: Answer) -> Cleared {
        let accepted = answer.messages.iter().map(|message| message.from);
        let mut accepted: Vec<Option<Address>> = accepted.collect();
        accepted.sort_unstable();
        self.outcome(accepted, answer.refusals, None)
    }

    fn not_answered(&self, none: NoAnswer) -> Cleared {
        match none.why {
            Why::Refused(refusals) => self.outcome(Vec::new(), refusals, None),
            why => self.outcome(Vec::new(), Vec::new(), Some(why.to_string())),
        }
    }

    fn lost(&self, sent: bool, words: String) -> Result<Cleared, ClearError> {
        if sent {
            Ok(self.outcome(Vec::new(), Vec::new(), Some(words)))
        } else {
            Err(LinkError::Lost(words).into())
        }
    }

    fn outcome(
        &self,
        accepted: Vec<Option<Address>>,
        refused: Vec<Refusal>,
        no_answer: Option<String>,
    ) -> Cleared {
        let all = self.connection().controllers.iter();
        let said = |address: &Address| {
            let of_refusal = refused.iter().any(|refusal| refusal.from == Some(*address));
            of_refusal || accepted.contains(&Some(*address))
        };
        let silent = all
            .filter_map(|controller| controller.address)
            .filter(|address| !said(address))
            .collect();
        Cleared {
            accepted,
            refused,
            silent,
            no_answer,
        }
    }

    /// Clearing wants an engine that stands (SAE J1979 leaves other conditions to the maker).
    async fn check_engine_stands(&mut self) -> Result<(), ClearError> {
        match (self.engine_speed_rpm().await?, self.connection().voltage) {
            (Some(rpm), _) if rpm > 0.0 => Err(ClearError::EngineRuns { rpm }),
            (Some(_), _) => Ok(()),
            (None, Some(volts)) if volts >= CHARGING_V => Err(ClearError::Charging { volts }),
            (None, Some(_)) => Ok(()),
            (None, None) => Err(ClearError::EngineNotKnown),
        }
    }

    async fn engine_speed_rpm(&mut self) -> Result<Option<f64>, LinkError> {
        let reply = self.ask(Question::Current(Pid::ENGINE_SPEED)).await?;
        let Some((answer, message)) = self.of_engine(&reply) else {
            return Ok(None);
        };
        let Ok(Meaning::Current(values)) = answer::decode(&answer.request, &message.payload) else {
            return Ok(None);
        };
        // a quarter of a turn a minute each (SAE J1979, PID 0C)
        let quarters = values.iter().find_map(|(pid, data)| match data.as_slice() {
            [high, low] if *pid == Pid::ENGINE_SPEED => Some(u16::from_be_bytes([*high, *low])),
            _ => None,
        });
        Ok(quarters.map(|quarters| f64::from(quarters) / 4.0))
    }
}

/// Whether [`Session::codes`] asks for it already.
const fn is_among_codes(question: Question) -> bool {
    matches!(
        question,
        Question::StoredCodes
            | Question::PendingCodes
            | Question::PermanentCodes
            | Question::Frozen(_)
            | Question::Snapshots(_)
            | Question::Current(Pid::MONITOR_STATUS)
    )
}

/// A reply that leaves open what the car has: its request and why. A car that says that it has nothing has answered,
/// and of the current values only trims and status matter.
fn not_read(reply: &Reply) -> Option<(String, String)> {
    let Reply::None(none) = reply else {
        return None;
    };
    let why = match &none.why {
        Why::Adapter(notice) if notice.is_silent_car() => return None,
        Why::Refused(_) => return None,
        why => why.to_string(),
    };
    let matters = match *none.request.as_slice() {
        [0x01, pid] | [0x22, 0xF4, pid] => TRIMS.contains(&pid) || Pid(pid) == Pid::MONITOR_STATUS,
        _ => true,
    };
    matters.then(|| (pintle_protocol::bus::hex::encode(&none.request), why))
}

/// Buses before CAN allow silence where there is no code (SAE J1979); then the status must agree.
fn stored_missing(codes: &Codes) -> Option<(String, String)> {
    let none_there = codes.status.is_some_and(|status| status.code_count() == 0);
    let missing = codes.stored.is_none() && !none_there;
    missing.then(|| ("stored codes".to_owned(), "no answer".to_owned()))
}
