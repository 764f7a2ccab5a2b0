//! One request to the car and what its reply means.

use super::event::{Answer, NoAnswer, Why};
use crate::{
    adapter::{Command, Damage, Notice, Reply},
    service::request::changes_the_car,
};

/// Pause before asking a controller again that asked to wait, in µs: common practice, well above
/// its 50 ms answer time.
pub(super) const PAUSE_US: u64 = 200_000;

/// A request in the air.
#[derive(Debug)]
pub(super) struct Exchange {
    request: Vec<u8>,
    expected_lines: Option<u8>,
    asked_at_us: u64,
    /// When the first request to wait came.
    waiting_since_us: Option<u64>,
    /// The reply could not be used and the same was asked again.
    pub asked_again: bool,
    /// The adapter started over during this request.
    pub restarted: bool,
}

/// What a reply means.
#[derive(Debug)]
pub(super) enum Verdict {
    /// The car answered.
    Answer(Answer),
    /// The car or the adapter says that there is no answer.
    NoAnswer(NoAnswer),
    /// Ask again after a pause.
    WaitOn,
    /// The adapter has started over; its words, if it said any.
    Restarted(Option<Notice>),
    /// A reply that cannot be used, and why.
    Garbled(Why),
}

impl Exchange {
    pub fn new(request: Vec<u8>, expected_lines: Option<u8>) -> Self {
        Self {
            request,
            expected_lines,
            asked_at_us: 0,
            waiting_since_us: None,
            asked_again: false,
            restarted: false,
        }
    }

    /// Whether asking again changes nothing in the car. Clearing is asked for once only.
    pub fn is_repeatable(&self) -> bool {
        !changes_the_car(&self.request)
    }

    /// What to say, now. Asked again, the adapter is told to wait for all lines: the number
    /// expected may have been wrong, or it was used up by a controller that asked to wait.
    pub fn command(&mut self, now_us: u64) -> Command {
        self.asked_at_us = now_us;
        Command::Request {
            bytes: self.request.clone(),
            expected_lines: self
                .expected_lines
                .filter(|_| !self.asked_again && self.waiting_since_us.is_none()),
        }
    }

    /// The service asked for.
    pub fn service(&self) -> u8 {
        self.request.first().copied().unwrap_or_default()
    }

    /// Reads the reply. `echo_is_off`: a reply that repeats the request comes from an adapter that
    /// lost its settings. `patience_us`: how long controllers that ask to wait are waited for.
    pub fn on_reply(
        &mut self,
        now_us: u64,
        reply: Reply,
        echo_is_off: bool,
        patience_us: u64,
    ) -> Verdict {
        if let Some(notice) = reply.notices.iter().find(|notice| notice.is_restart()) {
            return Verdict::Restarted(Some(notice.clone()));
        }
        if reply.echoed && echo_is_off {
            return Verdict::Restarted(None);
        }
        if !reply.pending.is_empty() && self.may_wait(now_us, patience_us) {
            return Verdict::WaitOn;
        }
        match reply.damage.first() {
            Some(damage) if !self.asked_again => Verdict::Garbled(damaged(damage)),
            _ if !reply.messages.is_empty() => Verdict::Answer(self.answer(now_us, reply)),
            _ => self.without_answer(now_us, reply),
        }
    }

    fn may_wait(&mut self, now_us: u64, patience_us: u64) -> bool {
        let since = *self.waiting_since_us.get_or_insert(now_us);
        self.is_repeatable() && now_us.saturating_sub(since) < patience_us
    }

    fn without_answer(&self, now_us: u64, reply: Reply) -> Verdict {
        if !reply.pending.is_empty() {
            return Verdict::NoAnswer(self.no_answer(now_us, Why::StillPending));
        }
        if !reply.refusals.is_empty() {
            return Verdict::NoAnswer(self.no_answer(now_us, Why::Refused(reply.refusals)));
        }
        if let Some(damage) = reply.damage.first() {
            return Verdict::Garbled(damaged(damage));
        }
        let telling = reply
            .notices
            .into_iter()
            .find(|notice| !notice.is_progress());
        match telling {
            Some(notice) if notice.is_silent_car() => {
                Verdict::NoAnswer(self.no_answer(now_us, Why::Adapter(notice)))
            }
            Some(notice) => Verdict::Garbled(Why::Adapter(notice)),
            None if reply.strays > 0 => {
                Verdict::Garbled(Why::Damaged("an answer to something else".into()))
            }
            None => Verdict::Garbled(Why::Damaged("an empty reply".into())),
        }
    }

    fn answer(&self, now_us: u64, reply: Reply) -> Answer {
        Answer {
            request: self.request.clone(),
            messages: reply.messages,
            damaged: reply.damage.len(),
            refusals: reply.refusals,
            lines: reply.data_lines,
            asked_at_us: self.asked_at_us,
            answered_at_us: now_us,
        }
    }

    /// The end of this request without an answer.
    pub fn no_answer(&self, now_us: u64, why: Why) -> NoAnswer {
        NoAnswer {
            request: self.request.clone(),
            why,
            asked_at_us: self.asked_at_us,
            ended_at_us: now_us,
        }
    }
}

fn damaged(damage: &Damage) -> Why {
    Why::Damaged(damage.to_string())
}
