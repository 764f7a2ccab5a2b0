//! Controllers that ask to wait and never answer.

use super::exchange::PAUSE_US;
use crate::{
    adapter::Reply,
    bus::{Message, address::Address},
};

/// A controller that stalled on a service before is asked again for this long, µs: one that has its answer ready gives it
/// at once.
const SHORT_PATIENCE_US: u64 = 2 * PAUSE_US;

/// So many controllers and services are remembered; no car has more.
const MOST: usize = 64;

/// Controllers that asked to wait for as long as is waited, by the service that they were asked for.
#[derive(Debug, Default)]
pub(super) struct Stalled {
    known: Vec<Stall>,
}

#[derive(Debug, PartialEq, Eq)]
struct Stall {
    controller: Option<Address>,
    service: u8,
    /// The controller has answered nothing since.
    is_silent: bool,
}

impl Stalled {
    /// How long to wait for the controllers that a reply shows asking to wait, µs. `full_us` is for one that has not stalled
    /// before. Where others answered, one that has stalled before is not waited for.
    pub fn patience_us(&self, service: u8, reply: &Reply, full_us: u64) -> u64 {
        let mut pending = reply.pending.iter();
        if !pending.all(|controller| self.has(*controller, service)) {
            return full_us;
        }
        if reply.messages.is_empty() {
            SHORT_PATIENCE_US.min(full_us)
        } else {
            0
        }
    }

    /// These controllers asked to wait to the end. Gives words for the person at the car where that is news.
    pub fn note(&mut self, service: u8, pending: &[Option<Address>]) -> Option<String> {
        let mut news = Vec::new();
        for &controller in pending {
            if !self.has(controller, service) && self.known.len() < MOST {
                self.known.push(Stall {
                    controller,
                    service,
                    is_silent: true,
                });
                news.push(controller.map_or("without address".to_owned(), |c| c.to_string()));
            }
        }
        (!news.is_empty()).then(|| words(&news))
    }

    /// Takes answers. Whether no controller is silent any more, and one was.
    pub fn answered(&mut self, service: u8, messages: &[Message]) -> bool {
        let has_answered = |stall: &Stall| messages.iter().any(|m| m.from == stall.controller);
        let was_silent = self.known.iter().any(|stall| stall.is_silent);
        self.known
            .retain(|stall| stall.service != service || !has_answered(stall));
        for stall in &mut self.known {
            stall.is_silent &= !has_answered(stall);
        }
        was_silent && !self.known.iter().any(|stall| stall.is_silent)
    }

    fn has(&self, controller: Option<Address>, service: u8) -> bool {
        let mut known = self.known.iter();
        known.any(|stall| stall.controller == controller && stall.service == service)
    }
}

fn words(controllers: &[String]) -> String {
    format!(
        "the car keeps asking to wait and does not answer (controller {}); turn the ignition off for a minute, then \
         on again; unplug everything else from the diagnostic port",
        controllers.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The engine controller on an 11-bit CAN bus (ISO 15765-4).
    const ENGINE: Option<Address> = Some(Address::Can11(0x7E8));

    /// The transmission controller on an 11-bit CAN bus (ISO 15765-4).
    const TRANSMISSION: Option<Address> = Some(Address::Can11(0x7E9));

    fn message(from: Option<Address>) -> Message {
        Message {
            from,
            payload: vec![0x41, 0x0C, 0, 0],
        }
    }

    fn reply(pending: &[Option<Address>], messages: &[Option<Address>]) -> Reply {
        Reply {
            pending: pending.to_vec(),
            messages: messages.iter().copied().map(message).collect(),
            ..Reply::default()
        }
    }

    #[test]
    fn a_controller_that_stalled_before_is_waited_for_briefly_and_not_at_all_beside_an_answer() {
        let mut stalled = Stalled::default();
        let alone = reply(&[TRANSMISSION], &[]);
        assert_eq!(stalled.patience_us(0x01, &alone, 5_500_000), 5_500_000);
        let words = stalled.note(0x01, &[TRANSMISSION]).unwrap();
        assert!(
            words.contains("(controller 7E9)") && words.contains("ignition"),
            "{words}"
        );
        assert_eq!(stalled.note(0x01, &[TRANSMISSION]), None);
        assert_eq!(
            stalled.patience_us(0x01, &alone, 5_500_000),
            SHORT_PATIENCE_US
        );
        let beside = reply(&[TRANSMISSION], &[ENGINE]);
        assert_eq!(stalled.patience_us(0x01, &beside, 5_500_000), 0);
        // another service, or another controller, may only be slow
        assert_eq!(stalled.patience_us(0x0A, &alone, 5_500_000), 5_500_000);
        let both = reply(&[TRANSMISSION, ENGINE], &[]);
        assert_eq!(stalled.patience_us(0x01, &both, 5_500_000), 5_500_000);
    }

    #[test]
    fn it_is_over_when_the_controller_itself_answers() {
        let mut stalled = Stalled::default();
        stalled.note(0x0A, &[TRANSMISSION]);
        assert!(
            !stalled.answered(0x01, &[message(ENGINE)]),
            "that is another one"
        );
        assert!(stalled.answered(0x01, &[message(TRANSMISSION)]));
        assert!(
            !stalled.answered(0x01, &[message(TRANSMISSION)]),
            "known already"
        );
        assert_eq!(stalled.note(0x0A, &[TRANSMISSION]), None, "and no news");
        stalled.answered(0x0A, &[message(TRANSMISSION)]);
        assert!(stalled.note(0x0A, &[TRANSMISSION]).is_some());
    }
}
