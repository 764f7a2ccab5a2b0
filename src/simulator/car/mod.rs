//! A whole car: engine, road, driver and controllers, stepped in time and asked through its diagnostic port.

pub(in crate::simulator) mod diagnostics;
mod engine;
pub mod fault;
pub mod fleet;
mod newer;
mod older_buses;
mod road;
pub mod trip;
mod waits;

use std::ops::Range;

use pintle_protocol::{Address, service::Services};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::simulator::{
    bus::{Bus, BusFamily},
    car::{
        diagnostics::{
            current_data::{self, Snapshot},
            information,
            memory::{Memory, SecondRecord},
            misfire_counters::MisfireCounters,
            monitor_results, trouble_codes,
        },
        engine::{Command, Engine, condition::Condition, controller::Loop, nature::Nature},
        fault::{Fault, FaultError},
        fleet::CarSpec,
        road::Road,
        trip::Trip,
    },
};
pub use engine::{Steady, nature};
use newer::Addressing;
use waits::Waits;

/// Length of a simulation step, µs.
const STEP_US: u64 = 20_000;
/// Number of steps between two checks of the trouble codes.
const STEPS_A_SECOND: u32 = 50;
/// First byte of a negative response (ISO 14229-1).
const NEGATIVE: u8 = 0x7F;
/// Reason of a negative response: the service is not supported (ISO 14229-1).
const SERVICE_NOT_SUPPORTED: u8 = 0x11;
/// Reason of a negative response: the conditions are not correct (ISO 14229-1).
const CONDITIONS_NOT_CORRECT: u8 = 0x22;

/// What one controller sends back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ControllerAnswer {
    /// Who answers.
    pub address: Address,
    /// The message; its first byte is the answer byte.
    pub payload: Vec<u8>,
    /// From the request's end to the answer's beginning on the bus, µs; later where the bus is not free by then.
    pub delay_us: u64,
}

/// A car on a trip.
#[derive(Debug, Clone)]
pub struct Car {
    spec: CarSpec,
    bus: Bus,
    waits: Option<Waits>,
    services: Services,
    trip: Trip,
    engine: Engine,
    road: Road,
    memory: Memory,
    counters: MisfireCounters,
    random: Pcg64Mcg,
    steps: u64,
    since_look: Look,
    was_cold: bool,
}

/// What has gathered since the last look at the codes.
#[derive(Debug, Clone, Default)]
struct Look {
    steps: u32,
    revolutions: f64,
    misfires: Vec<u8>,
    from_km: f64,
}

impl Car {
    /// A car of this make-up with these faults at the beginning of a trip. The seed draws the car itself: the same seed
    /// is the same car on every trip, with and without faults.
    ///
    /// # Errors
    /// When a fault sits at a place that the car does not have.
    pub fn new(
        spec: &CarSpec,
        faults: &[Fault],
        trip: Trip,
        seed: u64,
    ) -> Result<Self, FaultError> {
        Self::of_nature(spec, Nature::USUAL, faults, trip, seed)
    }

    /// Puts a car with these faults on this trip, with an engine that behaves by `nature` where physics leaves room.
    ///
    /// # Errors
    /// When a fault sits at a place that the car does not have.
    pub fn of_nature(
        spec: &CarSpec,
        nature: Nature,
        faults: &[Fault],
        trip: Trip,
        seed: u64,
    ) -> Result<Self, FaultError> {
        faults.iter().try_for_each(|fault| fault.check(spec))?;
        let condition = Condition::draw(spec, nature, faults, seed);
        Ok(Self::with_condition(spec, condition, trip, seed))
    }

    /// The settled state of the engine at idle, 2500 rpm without load, cruise and under load.
    pub fn steady(&self) -> Steady {
        self.engine.steady()
    }

    /// What each injector gives while it is held open, against nominal, by cylinder number: as on a flow bench.
    pub fn injector_flows(&self) -> Vec<(u8, f64)> {
        self.engine.injector_flows()
    }

    fn with_condition(spec: &CarSpec, condition: Condition, trip: Trip, seed: u64) -> Self {
        let cylinders = condition.banks.iter().flat_map(|bank| &bank.cylinders);
        let dead = cylinders.filter(|cylinder| cylinder.injector_flow <= 0.0);
        let dead = dead.map(|cylinder| cylinder.number).collect();
        let engine = Engine::new(spec, condition, &trip, seed);
        let counters = if trip.cleared {
            MisfireCounters::new(spec, |_| 0.0)
        } else {
            MisfireCounters::new(spec, |number| engine.typical_misfires(number))
        };
        Self {
            spec: *spec,
            bus: spec.bus,
            waits: None,
            services: spec.services,
            counters,
            road: Road::new(spec, &trip),
            memory: Memory::new(spec, &trip, dead),
            random: Pcg64Mcg::seed_from_u64(trip.seed ^ 0x0062_7573),
            steps: 0,
            since_look: Look::default(),
            was_cold: trip.coolant_c < 50.0,
            engine,
            trip,
        }
    }

    /// This car with a different bus at its diagnostic connector.
    #[must_use]
    pub fn on_bus(self, bus: Bus) -> Self {
        Self { bus, ..self }
    }

    /// This car with an engine controller that asks to wait before each answer (`7F`, service, `78`), `times` times and
    /// `each_us` each time, on the buses that allow it (ISO 15765-4, ISO 14230-4).
    #[must_use]
    pub fn with_waits(self, times: u8, each_us: u64) -> Self {
        let waits = Some(Waits::new(times, each_us));
        Self { waits, ..self }
    }

    /// This car with controllers that answer these services. Newer ones are on CAN only.
    #[must_use]
    pub fn answering(self, services: Services) -> Self {
        Self { services, ..self }
    }

    /// The bus at its diagnostic connector.
    pub const fn bus(&self) -> Bus {
        self.bus
    }

    /// What kind of car it is.
    pub const fn spec(&self) -> &CarSpec {
        &self.spec
    }

    /// How it is driven.
    pub const fn trip(&self) -> &Trip {
        &self.trip
    }

    /// Drives on to `t_us` microseconds after the beginning of the trip; earlier times do nothing.
    pub fn advance_to(&mut self, t_us: u64) {
        while (self.steps + 1) * STEP_US <= t_us {
            self.step();
        }
    }

    fn step(&mut self) {
        let dt = STEP_US as f64 / 1e6;
        let driving = self.trip.driving_at(self.steps as f64 * dt);
        let command = self.road.command(driving, &self.engine, dt);
        if command == Command::Off && self.engine.runs() {
            self.counters.new_cycle();
        }
        let step = self.engine.step(command, dt);
        self.road.roll(driving, command, step.torque_nm, dt);
        self.counters.count(&step.misfires, step.revolutions);
        self.steps += 1;
        self.since_look.revolutions += step.revolutions;
        self.since_look.misfires.extend(step.misfires);
        self.since_look.steps += 1;
        if self.since_look.steps >= STEPS_A_SECOND {
            self.look();
        }
    }

    /// Once a second the controller judges what it saw.
    fn look(&mut self) {
        let look = std::mem::take(&mut self.since_look);
        self.since_look.from_km = self.road.distance_km;
        if !self.engine.runs() {
            return;
        }
        let now = self.snapshot();
        if self.was_cold && now.engine.coolant_c > 71.0 {
            self.was_cold = false;
            self.memory.warmed_up();
        }
        let second = SecondRecord {
            dt: f64::from(look.steps) * STEP_US as f64 / 1e6,
            revolutions: look.revolutions,
            misfires: &look.misfires,
            km: self.road.distance_km - look.from_km,
            closed: now.engine.mode == Loop::Closed,
        };
        self.memory.second(second, || now.clone());
    }

    /// Supply voltage, V: the alternator's when the engine runs.
    pub fn volts(&self) -> f64 {
        if self.engine.runs() { 14.1 } else { 12.3 }
    }

    fn snapshot(&self) -> Snapshot {
        let stored = self.memory.stored();
        Snapshot {
            engine: self.engine.readings(),
            speed_km_h: self.road.speed_km_h,
            fuel_level_pct: self.trip.fuel_level_pct - 0.12 * self.road.distance_km,
            volts: self.volts() - 0.1,
            codes: stored.len() as u8,
            lamp: !stored.is_empty(),
            with_lamp: self.memory.with_lamp(),
            since_clear: self.memory.since_clear(),
            frozen_code: self.memory.freeze().map(|(code, _)| *code),
        }
    }

    /// Asks all controllers; gives what each sends back, the engine controller first. A controller that does not know
    /// what is asked for in a known service stays silent, as on a functional address.
    pub fn answer(&mut self, request: &[u8]) -> Vec<ControllerAnswer> {
        self.answer_to(request, Addressing::Functional)
    }

    /// Asks one controller alone: what it does not have it refuses aloud.
    pub fn answer_of(&mut self, controller: Address, request: &[u8]) -> Vec<ControllerAnswer> {
        let mut answers = self.answer_to(request, Addressing::Physical);
        answers.retain(|answer| answer.address == controller);
        answers
    }

    fn answer_to(&mut self, request: &[u8], addressing: Addressing) -> Vec<ControllerAnswer> {
        let Some((&service, rest)) = request.split_first() else {
            return Vec::new();
        };
        let (engine, transmission) = self.bus.addresses();
        let [engine_us, transmission_us] = answer_times_us(self.bus);
        let mut answers = Vec::new();
        let one = |payload: Option<Vec<u8>>| payload.into_iter().collect::<Vec<_>>();
        let payloads = match (self.bus.is_can(), self.services) {
            (true, Services::SaeJ1979) => one(self.engine_answer(service, rest)),
            (true, Services::Iso14229) => one(self.newer_engine_answer(service, rest, addressing)),
            (false, _) => self.older_engine_answer(service, rest),
        };
        self.add(&mut answers, engine, payloads, engine_us);
        if let Some(waits) = self.waits.as_mut().filter(|_| self.bus.refuses_aloud()) {
            waits.put_before(&mut answers, request, self.steps * STEP_US);
        }
        if self.spec.transmission_answers {
            let payloads = match (self.bus.is_can(), self.services) {
                (true, Services::SaeJ1979) => one(self.transmission_answer(service, rest)),
                (true, Services::Iso14229) => {
                    one(self.newer_transmission_answer(service, rest, addressing))
                }
                (false, _) => self.older_transmission_answer(service, rest),
            };
            self.add(&mut answers, transmission, payloads, transmission_us);
        }
        answers
    }

    /// Adds what a controller sends, all of it ready after one time between those given.
    fn add(
        &mut self,
        answers: &mut Vec<ControllerAnswer>,
        address: Address,
        payloads: Vec<Vec<u8>>,
        between_us: Range<u64>,
    ) {
        if payloads.is_empty() {
            return;
        }
        let delay_us = self.random.random_range(between_us);
        answers.extend(payloads.into_iter().map(|payload| ControllerAnswer {
            address,
            payload,
            delay_us,
        }));
    }

    fn engine_answer(&mut self, service: u8, rest: &[u8]) -> Option<Vec<u8>> {
        match (service, rest) {
            (0x01, pids @ [_, ..]) => {
                let now = self.snapshot();
                current(pids, |pid| current_data::encode(pid, &self.spec, &now))
            }
            (0x02, [pid, 0x00]) => self.freeze_frame(*pid),
            (0x03, []) => Some(trouble_codes::encode(0x43, self.memory.stored())),
            (0x04, []) => Some(self.clear()),
            (0x06, [mid]) => {
                let results = monitor_results::encode(*mid, &self.counters)?;
                Some([&[0x46], &results[..]].concat())
            }
            (0x07, []) => Some(trouble_codes::encode(0x47, self.memory.pending())),
            (0x09, [info_type]) => {
                let information = information::encode(*info_type, &self.spec)?;
                Some([&[0x49], &information[..]].concat())
            }
            (0x0A, []) => Some(trouble_codes::encode(0x4A, self.memory.permanent())),
            (0x01 | 0x02 | 0x03 | 0x04 | 0x06 | 0x07 | 0x09 | 0x0A, _) => None,
            _ => Some(vec![NEGATIVE, service, SERVICE_NOT_SUPPORTED]),
        }
    }

    fn transmission_answer(&self, service: u8, rest: &[u8]) -> Option<Vec<u8>> {
        match (service, rest) {
            (0x01, pids @ [_, ..]) => {
                let now = self.snapshot();
                current(pids, |pid| current_data::encode_transmission(pid, &now))
            }
            (0x03 | 0x07 | 0x0A, []) => Some(trouble_codes::encode(service + 0x40, &[])),
            (0x04, []) if !self.engine.runs() => Some(vec![0x44]),
            _ => None,
        }
    }

    fn freeze_frame(&self, pid: u8) -> Option<Vec<u8>> {
        let answer = |data: &[u8]| Some([&[0x42, pid, 0x00], data].concat());
        match (self.memory.freeze(), pid) {
            (None, 0x02) => answer(&[0, 0]),
            (None, _) => None,
            (Some((code, _)), 0x02) => answer(&code.to_be_bytes()),
            (Some(_), 0x01) => None,
            (Some((_, frozen)), _) => answer(&current_data::encode(pid, &self.spec, frozen)?),
        }
    }

    /// Clears codes, counters and long trims; refused while the engine runs.
    fn clear(&mut self) -> Vec<u8> {
        if self.engine.runs() {
            return vec![NEGATIVE, 0x04, CONDITIONS_NOT_CORRECT];
        }
        self.memory.clear();
        self.counters.clear();
        self.engine.clear_trims();
        vec![0x44]
    }
}

/// Service 01 for up to six parameters: each known one adds its number and bytes.
fn current(pids: &[u8], encode: impl Fn(u8) -> Option<Vec<u8>>) -> Option<Vec<u8>> {
    let mut payload = vec![0x41];
    for pid in pids.iter().take(6) {
        if let Some(data) = encode(*pid) {
            payload.push(*pid);
            payload.extend(data);
        }
    }
    (payload.len() > 1).then_some(payload)
}

/// How long engine and transmission controller take to begin an answer, µs. ISO 15765-4 allows 50 ms, ISO 9141-2 and
/// ISO 14230-4 demand 25 to 50 ms (P2), SAE J1979 allows 100 ms on J1850.
pub(super) const fn answer_times_us(bus: Bus) -> [Range<u64>; 2] {
    match bus.family() {
        BusFamily::Can11 | BusFamily::Can29 => [2_500..7_500, 4_000..12_000],
        BusFamily::Kline => [26_000..38_000, 28_000..45_000],
        BusFamily::J1850 => [8_000..25_000, 10_000..40_000],
    }
}

#[cfg(test)]
mod tests;
