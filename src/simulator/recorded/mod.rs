//! A recorded car: whoever asks gets what the real controllers said at that time of the recording.
//!
//! The recording's time runs from the first request for data, or for anything else but support masks, after the adapter
//! was reset: every program that plugs in meets the recording from its beginning. Before an item's first answer its first
//! one is given. Where for a while nobody answered in the recording, and after its last answer, the car is silent: a value
//! held on would look like a measurement that nobody made.

mod answers;
mod controller;
mod on_bus;
mod open;
mod request;
mod value;

use std::collections::BTreeMap;

use pintle_protocol::{Address, bus::Protocol, service::request::changes_the_car};
use tokio::sync::watch;

use crate::simulator::{
    bus::Bus,
    car::{ControllerAnswer, answer_times_us},
};
use controller::{Controller, Statement};
pub use open::{Opened, RecordedError, open};
use request::{answer_alone, asks_for_mask, parts};

/// First byte of a negative response (ISO 14229-1).
const NEGATIVE: u8 = 0x7F;
/// Reason of a negative response: the service is not supported (ISO 14229-1).
const SERVICE_NOT_SUPPORTED: u8 = 0x11;

/// From one message of a controller on CAN to its next, µs: a long one is over by then. Before CAN they wait for the bus.
const MESSAGE_US: u64 = 10_000;

/// Requests for the voltage at the control module, by either family of services (SAE J1979).
const VOLTAGES: [&[u8]; 2] = [&[0x01, 0x42], &[0x22, 0xF4, 0x42]];
/// Volts of one count of that voltage (SAE J1979).
const VOLT_STEP: f64 = 0.001;

/// A recording in place of a car.
#[derive(Debug)]
pub struct RecordedCar {
    bus: Bus,
    controllers: BTreeMap<Address, Controller>,
    /// When a request was left without an answer by all controllers, µs.
    unanswered: BTreeMap<Vec<u8>, Vec<u64>>,
    /// Whether it answers requests for several current values.
    takes_several: bool,
    /// Times in which nothing was answered: last answer before, first answer after, µs.
    silences_us: Vec<(u64, u64)>,
    /// First and last answer, µs.
    first_us: u64,
    last_us: u64,
    /// Where in the recording it begins, µs.
    from_us: u64,
    now_us: u64,
    /// When the recording's time began to run, on the clock of whoever asks, µs.
    begun_us: Option<u64>,
    stage: watch::Sender<Stage>,
}

/// How far a recording has been played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Paused at the beginning until somebody asks for data.
    Waiting,
    /// Playing.
    Running,
    /// Past the last answer: the car is silent.
    Over,
}

impl RecordedCar {
    /// The bus at its diagnostic connector.
    pub const fn bus(&self) -> Bus {
        self.bus
    }

    /// The protocol of its bus.
    pub const fn protocol(&self) -> Protocol {
        on_bus::protocol_of(self.bus)
    }

    /// How many controllers there are.
    pub fn controllers(&self) -> usize {
        self.controllers.len()
    }

    /// How many items all controllers together have answered: parameters, monitors, information types, lists of codes.
    pub fn items(&self) -> usize {
        self.controllers.values().map(Controller::count).sum()
    }

    /// From its first to its last answer, µs.
    pub const fn length_us(&self) -> u64 {
        self.last_us - self.first_us
    }

    /// Follows how far it is.
    pub fn stage(&self) -> watch::Receiver<Stage> {
        self.stage.subscribe()
    }

    /// This recording, beginning `later_us` µs after its first answer; `None` when it is over by then.
    #[must_use]
    pub fn from(self, later_us: u64) -> Option<Self> {
        let from_us = self.first_us.saturating_add(later_us);
        (from_us < self.last_us).then_some(Self { from_us, ..self })
    }

    /// Goes back to the beginning and waits for the first request.
    pub fn start_over(&mut self) {
        self.begun_us = None;
        self.stage.send_replace(Stage::Waiting);
    }

    /// Lets time pass, to `now_us` on the clock of whoever asks.
    pub fn advance_to(&mut self, now_us: u64) {
        self.now_us = self.now_us.max(now_us);
        if self.begun_us.is_some() && self.time_us() > self.last_us {
            self.stage.send_if_modified(|stage| {
                let running = *stage != Stage::Over;
                *stage = Stage::Over;
                running
            });
        }
    }

    /// Voltage of the supply, V, as the control module last said; `None` when it never did.
    pub fn volts(&self) -> Option<f64> {
        let said = VOLTAGES.iter().find_map(|request| {
            let mut controllers = self.controllers.values();
            let of = |controller: &Controller| {
                controller.newest(request, self.time_us(), self.bus.is_can())
            };
            let [.., high, low] = *controllers.find_map(of)?.payloads.first()?.as_slice() else {
                return None;
            };
            Some(u16::from_be_bytes([high, low]))
        });
        said.map(|raw| f64::from(raw) * VOLT_STEP)
    }

    /// Asks all controllers.
    pub fn answer(&mut self, request: &[u8]) -> Vec<ControllerAnswer> {
        if self.begun_us.is_none() && !asks_for_mask(request) {
            self.begun_us = Some(self.now_us);
            self.stage.send_replace(Stage::Running);
        }
        let (is_there, [first_us, others_us]) = (self.is_there(), answer_times_us(self.bus));
        let apart_us = if self.bus.is_can() { MESSAGE_US } else { 0 };
        let mut answers = Vec::new();
        for (number, (address, controller)) in self.controllers.iter().enumerate() {
            // in the middle of what the standards leave to a controller
            let range = if number == 0 { &first_us } else { &others_us };
            let delay_us = range.start.midpoint(range.end) + 500 * number as u64;
            let payloads = if is_there {
                self.payloads(controller, request)
            } else {
                Vec::new()
            };
            let messages = payloads
                .into_iter()
                .flat_map(|payload| on_bus::messages(self.bus, payload));
            answers.extend(messages.zip(0..).map(|(payload, before)| ControllerAnswer {
                address: *address,
                payload,
                delay_us: delay_us + before * apart_us,
            }));
        }
        answers
    }

    /// Asks one controller alone.
    pub fn answer_of(&mut self, controller: Address, request: &[u8]) -> Vec<ControllerAnswer> {
        let mut answers = self.answer(request);
        answers.retain(|answer| answer.address == controller);
        answers
    }

    /// Time of the recording, µs.
    fn time_us(&self) -> u64 {
        let passed_us = self.begun_us.map_or(0, |begun_us| self.now_us - begun_us);
        self.from_us.saturating_add(passed_us)
    }

    /// Whether the car answered anything at this time. Until its time runs it does.
    fn is_there(&self) -> bool {
        let t_us = self.time_us();
        let silent =
            |(before_us, after_us): &(u64, u64)| (before_us + 1..*after_us).contains(&t_us);
        self.begun_us.is_none() || t_us <= self.last_us && !self.silences_us.iter().any(silent)
    }

    fn payloads(&self, controller: &Controller, request: &[u8]) -> Vec<Vec<u8>> {
        if changes_the_car(request) {
            // a recording stays as it is
            let refusal = request.first().filter(|_| self.bus.refuses_aloud());
            let refusal = refusal.map(|service| vec![NEGATIVE, *service, SERVICE_NOT_SUPPORTED]);
            return refusal.into_iter().collect();
        }
        let parts = parts(request);
        if !parts.is_empty() && self.takes_several {
            return self.joined(controller, &parts).into_iter().collect();
        }
        self.newest(controller, request)
            .map_or_else(Vec::new, |said| said.payloads)
    }

    /// One answer to a request for several current values: those that the controller has.
    fn joined(&self, controller: &Controller, parts: &[Vec<u8>]) -> Option<Vec<u8>> {
        let mut whole = Vec::new();
        for part in parts {
            let said = self.newest(controller, part);
            let payload = said.and_then(|said| said.payloads.into_iter().next());
            let (Some(payload), Some(item)) = (payload, part.get(1..)) else {
                continue;
            };
            let begin = answer_alone(part, &[]);
            if payload.starts_with(&begin) {
                if whole.is_empty() {
                    whole.extend(begin.first());
                }
                whole.extend_from_slice(item);
                whole.extend(payload.get(begin.len()..).unwrap_or_default());
            }
        }
        (!whole.is_empty()).then_some(whole)
    }

    /// What a controller said last, unless the same request has been left without an answer since.
    fn newest(&self, controller: &Controller, request: &[u8]) -> Option<Statement> {
        let t_us = self.time_us();
        let said = controller.newest(request, t_us, self.bus.is_can())?;
        let in_vain = self.unanswered.get(request).and_then(|times| {
            let after = times.partition_point(|time_us| *time_us <= t_us);
            times.get(after.checked_sub(1)?)
        });
        let since = |in_vain_us: &u64| said.t_us > t_us || *in_vain_us > said.t_us;
        (!in_vain.is_some_and(since)).then_some(said)
    }
}

#[cfg(test)]
mod tests;
