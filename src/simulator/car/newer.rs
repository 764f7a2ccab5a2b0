//! What the controllers of a newer car send: ISO 14229 services instead of those of SAE J1979.

use super::{CONDITIONS_NOT_CORRECT, Car, NEGATIVE, SERVICE_NOT_SUPPORTED};
use crate::simulator::car::diagnostics::{
    current_data, information, is_mask,
    iso14229::{self, Lists, OUT_OF_RANGE, SUBFUNCTION_NOT_SUPPORTED, WRONG_LENGTH},
    monitor_results,
};

/// Where a request was sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Addressing {
    /// To all controllers.
    Functional,
    /// To one.
    Physical,
}

/// Reasons that a controller keeps to itself when all were asked (ISO 14229-1; from memory): it does not have the
/// service, the subfunction or the item.
const UNSAID: [u8; 5] = [
    SERVICE_NOT_SUPPORTED,
    SUBFUNCTION_NOT_SUPPORTED,
    OUT_OF_RANGE,
    0x7E,
    0x7F,
];

impl Car {
    /// The engine controller's message, `None` for silence.
    pub(super) fn newer_engine_answer(
        &mut self,
        service: u8,
        rest: &[u8],
        addressing: Addressing,
    ) -> Option<Vec<u8>> {
        let reported = match service {
            0x22 => {
                let now = self.snapshot();
                iso14229::read(rest, |high, low| match high {
                    0xF4 => current_data::encode(low, &self.spec, &now),
                    0xF6 => self.results(low),
                    0xF8 => self.information(low),
                    _ => None,
                })
            }
            0x19 => iso14229::codes(rest, self.lists(), |code| self.frozen(code)),
            0x14 => self.clear_group(rest),
            _ => Err(SERVICE_NOT_SUPPORTED),
        };
        spoken(service, reported, addressing)
    }

    /// The transmission controller's message; it has no codes.
    pub(super) fn newer_transmission_answer(
        &self,
        service: u8,
        rest: &[u8],
        addressing: Addressing,
    ) -> Option<Vec<u8>> {
        let none = Lists {
            stored: &[],
            pending: &[],
            permanent: &[],
        };
        let reported = match service {
            0x22 => {
                let now = self.snapshot();
                iso14229::read(rest, |high, low| match high {
                    0xF4 => current_data::encode_transmission(low, &now),
                    _ => None,
                })
            }
            0x19 => iso14229::codes(rest, none, |_| None),
            0x14 if self.engine.runs() => Err(CONDITIONS_NOT_CORRECT),
            0x14 => Ok(vec![0x54]),
            _ => Err(SERVICE_NOT_SUPPORTED),
        };
        spoken(service, reported, addressing)
    }

    /// Data after the identifier: those of service 06, without the monitor before each test.
    fn results(&self, mid: u8) -> Option<Vec<u8>> {
        let reported = monitor_results::encode(mid, &self.counters)?;
        let record = if is_mask(mid) { reported.len() } else { 9 };
        let records = reported.chunks(record).filter_map(|record| record.get(1..));
        Some(records.collect::<Vec<_>>().concat())
    }

    /// Data after the identifier: those of service 09, without type and number of items.
    fn information(&self, info_type: u8) -> Option<Vec<u8>> {
        let reported = information::encode(info_type, &self.spec)?;
        let before = if is_mask(info_type) { 1 } else { 2 };
        reported.get(before..).map(<[u8]>::to_vec)
    }

    fn lists(&self) -> Lists<'_> {
        Lists {
            stored: self.memory.stored(),
            pending: self.memory.pending(),
            permanent: self.memory.permanent(),
        }
    }

    /// Every parameter of the freeze frame of a code, except masks, check-engine light and the code itself.
    fn frozen(&self, code: u16) -> Option<Vec<(u8, Vec<u8>)>> {
        let (_, snapshot) = self.memory.freeze().filter(|(frozen, _)| *frozen == code)?;
        let values = current_data::supported(&self.spec).filter_map(|pid| {
            let data = current_data::encode(pid, &self.spec, snapshot)?;
            (pid > 0x02).then_some((pid, data))
        });
        Some(values.collect())
    }

    /// Clears the emissions-related group, or all groups.
    fn clear_group(&mut self, rest: &[u8]) -> Result<Vec<u8>, u8> {
        match rest {
            [0xFF, 0xFF, 0x33 | 0xFF] if self.engine.runs() => Err(CONDITIONS_NOT_CORRECT),
            [0xFF, 0xFF, 0x33 | 0xFF] => {
                self.clear();
                Ok(vec![0x54])
            }
            [_, _, _] => Err(OUT_OF_RANGE),
            _ => Err(WRONG_LENGTH),
        }
    }
}

/// The message: an answer, a no, or silence instead of a no that is not said to requests for all.
fn spoken(service: u8, reported: Result<Vec<u8>, u8>, addressing: Addressing) -> Option<Vec<u8>> {
    match reported {
        Ok(payload) => Some(payload),
        Err(reason) if addressing == Addressing::Functional && UNSAID.contains(&reason) => None,
        Err(reason) => Some(vec![NEGATIVE, service, reason]),
    }
}
