//! How the adapter comes to the car's bus: by search or by order, waking it where it sleeps and keeping it awake.

use super::{
    COMMAND_US, Purpose, VirtualAdapter,
    settings::number_of,
    wire::{self, Waking},
};
use crate::simulator::bus::Bus;

/// Until CAN without an answer is called an error, µs.
const CAN_ERROR_US: u64 = 280_000;
/// Silence after which the adapter keeps a woken bus awake by itself, µs: it would sleep after 5 s (P3 of ISO 9141-2 and
/// ISO 14230-2).
const KEEP_AWAKE_US: u64 = 3_000_000;

impl VirtualAdapter {
    /// Finds the bus where it is not known yet, and wakes it: gives the time at which it is ready, or says why it is not.
    pub(super) fn connect(&mut self, now_us: u64) -> Option<u64> {
        let bus = self.car.bus();
        let right = self.settings.bus() == Some(bus);
        if self.settings.automatic && !(right && self.found) {
            return self.search(now_us);
        }
        let answers = right && self.ignition;
        match self.settings.bus().and_then(wire::waking) {
            Some(_) if answers && self.awake => Some(self.keep_awake(now_us)),
            Some(waking) => self.wake(waking, answers, now_us),
            None if answers => {
                self.found = true;
                Some(now_us.max(self.bus_used_us + wire::before_request_us(bus)))
            }
            None if self.settings.automatic => self.search(now_us),
            None => self.no_bus(now_us),
        }
    }

    /// The bus that is set is not there.
    fn no_bus(&mut self, now_us: u64) -> Option<u64> {
        let (wait_us, words) = match self.settings.bus() {
            Some(bus) if !bus.is_can() => (self.settings.timeout_us(), "NO DATA"),
            _ => (CAN_ERROR_US, "CAN ERROR"),
        };
        self.finish(now_us + wait_us, &[words.to_owned()]);
        None
    }

    fn search(&mut self, now_us: u64) -> Option<u64> {
        self.forget_bus();
        self.say(now_us + COMMAND_US, b"SEARCHING...");
        if !self.ignition {
            self.settings.protocol = 0;
            self.finish(
                now_us + wire::SEARCH_FAILS_US,
                &[String::new(), "UNABLE TO CONNECT".to_owned()],
            );
            return None;
        }
        let bus = self.car.bus();
        self.settings.protocol = number_of(bus);
        let ready_us = now_us + wire::search_us(bus);
        if let Some(waking) = wire::waking(bus) {
            self.woken(waking, ready_us);
        }
        self.found = true;
        let end = self.line_end();
        self.say(ready_us, end.as_bytes());
        Some(ready_us + wire::before_request_us(bus))
    }

    /// Wakes a sleeping bus, and says so.
    fn wake(&mut self, waking: Waking, answers: bool, now_us: u64) -> Option<u64> {
        self.say(now_us + COMMAND_US, b"BUS INIT: ");
        if waking == Waking::Slow {
            self.say(now_us + COMMAND_US, b"...");
        }
        if !answers {
            self.forget_bus();
            self.finish(now_us + waking.failure_us(), &["ERROR".to_owned()]);
            return None;
        }
        let ready_us = now_us + waking.length_us();
        self.woken(waking, ready_us);
        let text = format!("OK{}", self.line_end());
        self.say(ready_us, text.as_bytes());
        Some(ready_us + wire::before_request_us(self.car.bus()))
    }

    fn woken(&mut self, waking: Waking, at_us: u64) {
        let (header, data): (&[u8], u8) = match waking {
            Waking::Slow => (&[], 0x33),
            Waking::Fast => (&[0xC1, 0x33, 0xF1], 0x81),
        };
        self.bus_log.add(at_us, header, &[data], Purpose::Wake);
        (self.found, self.awake, self.bus_used_us) = (true, true, at_us);
    }

    /// Notes what was sent to a woken bus in the meantime so that it would not fall asleep; gives the time at which it is
    /// free.
    fn keep_awake(&mut self, now_us: u64) -> u64 {
        let bus = self.car.bus();
        let data: &[u8] = match bus {
            Bus::Iso9141 => &[0x01, 0x00],
            _ => &[0x3E],
        };
        while self.bus_used_us + KEEP_AWAKE_US < now_us {
            self.bus_used_us += KEEP_AWAKE_US;
            let header = wire::request_header(bus, data.len());
            self.bus_log
                .add(self.bus_used_us, &header, data, Purpose::KeepAwake);
        }
        now_us.max(self.bus_used_us + wire::before_request_us(bus))
    }

    /// The bus is yet to be found, or to be woken.
    pub(super) const fn forget_bus(&mut self) {
        (self.found, self.awake) = (false, false);
    }
}
