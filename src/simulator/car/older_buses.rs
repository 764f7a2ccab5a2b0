//! What the controllers send on K-line and J1850: short messages, one parameter a request (SAE J1979, from memory).

use super::{CONDITIONS_NOT_CORRECT, Car, NEGATIVE, SERVICE_NOT_SUPPORTED};
use crate::simulator::{
    bus::Bus,
    car::diagnostics::{information, monitor_results, trouble_codes},
};

impl Car {
    /// Every message of the engine controller, none for silence.
    pub(super) fn older_engine_answer(&mut self, service: u8, rest: &[u8]) -> Vec<Vec<u8>> {
        let one = |message: Option<Vec<u8>>| message.into_iter().collect();
        match (service, rest) {
            (0x01, [_]) | (0x02, [_, 0x00]) => one(self.engine_answer(service, rest)),
            (0x03 | 0x07, []) if self.keeps_silent_without_codes(service) => Vec::new(),
            (0x03, []) => trouble_codes::in_threes(0x43, self.memory.stored()),
            (0x04, []) if self.engine.runs() => self.refusal(service, CONDITIONS_NOT_CORRECT),
            (0x04, []) => vec![self.clear()],
            (0x06, [test]) => one(monitor_results::older(*test, &self.counters)),
            (0x07, []) => trouble_codes::in_threes(0x47, self.memory.pending()),
            (0x09, [info_type]) => information::counted(*info_type, &self.spec),
            (0x01 | 0x02 | 0x03 | 0x04 | 0x06 | 0x07 | 0x09, _) => Vec::new(),
            _ => self.refusal(service, SERVICE_NOT_SUPPORTED),
        }
    }

    /// Every message of the transmission controller. Without codes it need not answer on ISO 9141-2 and J1850.
    pub(super) fn older_transmission_answer(&self, service: u8, rest: &[u8]) -> Vec<Vec<u8>> {
        match (service, rest) {
            (0x01, [_]) | (0x04, []) => self
                .transmission_answer(service, rest)
                .into_iter()
                .collect(),
            (0x03 | 0x07, []) if self.bus.refuses_aloud() => {
                trouble_codes::in_threes(service + 0x40, &[])
            }
            _ => Vec::new(),
        }
    }

    /// On J1850 the controllers of this fleet use the leave to say nothing when there is no code.
    fn keeps_silent_without_codes(&self, service: u8) -> bool {
        let codes = match service {
            0x03 => self.memory.stored(),
            _ => self.memory.pending(),
        };
        codes.is_empty() && matches!(self.bus, Bus::J1850Pwm | Bus::J1850Vpw)
    }

    /// A negative answer, on the buses where it is said to requests for all controllers.
    fn refusal(&self, service: u8, reason: u8) -> Vec<Vec<u8>> {
        if self.bus.refuses_aloud() {
            vec![vec![NEGATIVE, service, reason]]
        } else {
            Vec::new()
        }
    }
}
