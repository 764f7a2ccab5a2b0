//! The ladder of recovery: which step comes next, and what is said about it.

use super::event::{RecoveryStep, Why};
use crate::adapter::Notice;

/// Requests in a row that may stay without a usable reply, although the adapter gives its prompt,
/// before a step up.
const BAD_REQUESTS: u32 = 3;

/// Where on the ladder the link stands. A usable answer puts it back to the ground.
#[derive(Debug, Default)]
pub(super) struct Ladder {
    step: Option<RecoveryStep>,
    bad_requests: u32,
}

impl Ladder {
    /// Notes that the first reply to a request could not be used.
    pub fn ask_again(&mut self) -> RecoveryStep {
        self.step.get_or_insert(RecoveryStep::AskAgain);
        RecoveryStep::AskAgain
    }

    /// Notes that a request got no usable reply even when asked again. Gives a step once that has
    /// become a habit.
    pub fn bad_request(&mut self) -> Option<RecoveryStep> {
        self.bad_requests += 1;
        if self.bad_requests < BAD_REQUESTS {
            return None;
        }
        self.bad_requests = 0;
        Some(self.climb())
    }

    /// Notes that the adapter has started over and its settings are made again.
    pub fn restarted(&mut self) {
        self.step = Some(RecoveryStep::ApplySettings).max(self.step);
    }

    /// The next step up.
    pub fn climb(&mut self) -> RecoveryStep {
        let next = match self.step {
            None | Some(RecoveryStep::AskAgain) => RecoveryStep::Flush,
            Some(RecoveryStep::Flush) => RecoveryStep::ApplySettings,
            Some(RecoveryStep::ApplySettings) => RecoveryStep::SoftReset,
            Some(RecoveryStep::SoftReset | RecoveryStep::Reopen) => RecoveryStep::Reopen,
        };
        self.step = Some(next);
        next
    }

    /// Back to the ground; whether that is news.
    pub fn all_is_well(&mut self) -> bool {
        let was_up = self.step.is_some();
        *self = Self::default();
        was_up
    }
}

/// What happened and what is done about it, for the person at the car.
pub(super) fn trouble_words(why: Option<&Why>, step: RecoveryStep) -> String {
    let what = match why {
        None => "the adapter stopped answering".to_owned(),
        Some(Why::Damaged(_)) => "an answer was damaged".to_owned(),
        Some(Why::Adapter(notice)) => notice_words(notice).to_owned(),
        Some(other) => other.to_string(),
    };
    format!("{what}; {step}")
}

/// A notice in plain words.
fn notice_words(notice: &Notice) -> &'static str {
    match notice {
        Notice::BusBusy => "the car's bus is busy all the time",
        Notice::BusError | Notice::CanError | Notice::FeedbackError => {
            "the car's bus does not work; push the plug in firmly"
        }
        Notice::DataError | Notice::LineDamaged | Notice::LineCut => "an answer was damaged",
        Notice::BufferFull => "answers came faster than the adapter could pass them on",
        Notice::Stopped => "the adapter was interrupted",
        Notice::NotUnderstood => "the adapter did not understand",
        Notice::Fault(_) => "the adapter reports an internal fault",
        _ => "the adapter passed on no answer from the car",
    }
}

/// A car that does not answer any more, for the person at the car.
pub(super) const SILENT_CAR: &str =
    "the car has stopped answering; check that the ignition is on and the engine still runs";

/// What a restart of the adapter means, for the person at the car.
pub(super) fn restart_words(notice: Option<&Notice>) -> String {
    let what = match notice {
        Some(Notice::LowVoltageReset) => {
            "the adapter restarted because its supply was too low; check battery voltage and plug"
        }
        Some(_) => "the adapter restarted by itself; push the plug in firmly",
        None => "the adapter has lost its settings; push the plug in firmly",
    };
    format!("{what}; {}", RecoveryStep::ApplySettings)
}
