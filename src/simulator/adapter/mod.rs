//! A serial AT-command adapter in front of a simulated or recorded car: received bytes in, timed bytes out.
//!
//! It finds the car's bus by itself or uses a given one, wakes the buses that sleep, and keeps them awake. It knows no
//! clock; every call says what time it is. Output is paced by the line's baud rate and by the controllers'
//! answer times. A byte that comes in while it works on a request stops that work.

mod bus_log;
mod connecting;
pub mod endpoint;
mod frame;
mod mishap;
mod plugged_car;
mod settings;
mod trace_player;
mod wire;

use std::collections::VecDeque;

pub use bus_log::{BusLog, Purpose, Sent};
pub use mishap::{Mishap, Mishaps};
pub use plugged_car::PluggedCar;
pub use trace_player::TracePlayer;

use frame::Frame;
use settings::{Outcome, Settings, Target};

/// Most bytes of output that arrive at once: like the small first-in-first-out memory of a serial converter.
const CHUNK: usize = 16;
/// Longest line kept.
const LINE: usize = 64;
/// Time of the self-test after a reset, µs (assumed).
const RESET_US: u64 = 600_000;
/// Time that a command takes, µs (assumed).
const COMMAND_US: u64 = 1_500;
/// Shortest wait after an answer when timing adapts, µs.
const ADAPTED_US: u64 = 16_000;

/// The adapter, plugged into a car.
#[derive(Debug)]
pub struct VirtualAdapter {
    car: PluggedCar,
    byte_us: f64,
    ignition: bool,
    found: bool,
    /// A bus that must be woken is awake.
    awake: bool,
    /// When the bus was used last, µs.
    bus_used_us: u64,
    bus_log: BusLog,
    settings: Settings,
    mishaps: Mishaps,
    line: Vec<u8>,
    last: Vec<u8>,
    slowest_us: u64,
    output: VecDeque<(u64, Vec<u8>)>,
    line_free_us: f64,
    busy_until_us: u64,
}

impl VirtualAdapter {
    /// An adapter just powered up, on a serial line of `baud` bits a second (10 bits a byte).
    pub fn new(car: impl Into<PluggedCar>, baud: u32) -> Self {
        Self {
            car: car.into(),
            byte_us: 10e6 / f64::from(baud.max(1)),
            ignition: true,
            found: false,
            awake: false,
            bus_used_us: 0,
            bus_log: BusLog::default(),
            settings: Settings::default(),
            mishaps: Mishaps::default(),
            line: Vec::new(),
            last: Vec::new(),
            slowest_us: 0,
            output: VecDeque::new(),
            line_free_us: 0.0,
            busy_until_us: 0,
        }
    }

    /// This adapter with mishaps, so that it is unreliable.
    #[must_use]
    pub fn with_mishaps(mut self, mishaps: Mishaps) -> Self {
        self.mishaps = mishaps;
        self
    }

    /// Bytes that the line hands on together.
    pub fn burst(&self, now_us: u64) -> usize {
        self.mishaps.burst(now_us)
    }

    /// What one byte takes on the serial line, µs.
    pub const fn byte_us(&self) -> f64 {
        self.byte_us
    }

    /// What it has put on the car's bus; the list goes on growing.
    pub fn bus_log(&self) -> BusLog {
        self.bus_log.clone()
    }

    /// Turns the ignition of the car off or on: without it no controller answers.
    pub fn set_ignition(&mut self, on: bool) {
        self.ignition = on;
        self.awake &= on;
    }

    /// When the next output byte has arrived, µs; `None` when there is nothing more to come.
    pub fn due_us(&self) -> Option<u64> {
        self.output.front().map(|(at_us, _)| *at_us)
    }

    /// When the last byte that is now on its way will have arrived, µs.
    pub fn settled_us(&self) -> Option<u64> {
        self.output.back().map(|(at_us, _)| *at_us)
    }

    /// Takes what has arrived at the other end of the line by `now_us`.
    pub fn take_due(&mut self, now_us: u64) -> Vec<u8> {
        let mut bytes = Vec::new();
        while self
            .output
            .front()
            .is_some_and(|(at_us, _)| *at_us <= now_us)
        {
            bytes.extend(
                self.output
                    .pop_front()
                    .into_iter()
                    .flat_map(|(_, chunk)| chunk),
            );
        }
        bytes
    }

    /// A byte has come in.
    pub fn receive(&mut self, byte: u8, now_us: u64) {
        if now_us < self.busy_until_us {
            self.stop(now_us);
            return;
        }
        if self.settings.echo && byte != 0 {
            self.say(now_us, &[byte]);
        }
        match byte {
            b'\r' => self.obey(now_us),
            0 | b'\n' => {}
            _ if self.line.len() < LINE => self.line.push(byte),
            _ => {}
        }
    }

    /// Work is broken off: what has not been sent is lost.
    fn stop(&mut self, now_us: u64) {
        self.output.retain(|(at_us, _)| *at_us <= now_us);
        self.line_free_us = self.line_free_us.min(now_us as f64 + self.byte_us);
        self.busy_until_us = 0;
        self.line.clear();
        self.finish(now_us, &["STOPPED".to_owned()]);
    }

    fn obey(&mut self, now_us: u64) {
        let mut line: Vec<u8> = std::mem::take(&mut self.line);
        line.retain(|byte| !byte.is_ascii_whitespace());
        line.make_ascii_uppercase();
        if line.is_empty() {
            line.clone_from(&self.last);
        }
        if !self.mishaps.hears(&line) {
            return;
        }
        self.last.clone_from(&line);
        self.car.advance_to(now_us);
        match line.strip_prefix(b"AT") {
            Some(word) => self.command(&String::from_utf8_lossy(word), now_us),
            None => self.request(&line, now_us),
        }
    }

    fn command(&mut self, word: &str, now_us: u64) {
        let outcome = match self.mishaps.of_setting(word, now_us) {
            Some(Mishap::Refuses(_)) => Outcome::Unknown,
            Some(_) => Outcome::Say("OK".to_owned()),
            None => self.settings.obey(word, self.car.volts()),
        };
        match outcome {
            Outcome::Say(line) => self.finish(now_us + COMMAND_US, &[line]),
            Outcome::Introduce => {
                self.finish(now_us + COMMAND_US, &[self.car.adapter_name().to_owned()]);
            }
            Outcome::Unknown => self.finish(now_us + COMMAND_US, &["?".to_owned()]),
            Outcome::Restart => {
                // what every program does first
                if word == "Z" {
                    self.car.plugged_in();
                }
                let wait_us = if word == "Z" { RESET_US } else { RESET_US / 10 };
                self.start_over(now_us + wait_us, self.car.adapter_name());
            }
        }
        if word.starts_with("SP") || word.starts_with("TP") || word == "PC" {
            self.forget_bus();
        }
    }

    /// Puts everything into the state after power-up and announces it with `words`.
    fn start_over(&mut self, at_us: u64, words: &str) {
        self.settings = Settings::default();
        self.forget_bus();
        self.slowest_us = 0;
        let garbage = self.mishaps.at_start(at_us);
        self.say(at_us, &garbage);
        self.finish(at_us, &[String::new(), String::new(), words.to_owned()]);
    }

    /// A request in hex digits; an odd last digit is the number of answer lines after which not to wait.
    fn request(&mut self, line: &[u8], now_us: u64) {
        let digits: Option<Vec<u8>> = line.iter().map(|byte| digit(*byte)).collect();
        let digits = digits.filter(|digits| (2..=15).contains(&digits.len()));
        let Some(digits) = digits else {
            return self.finish(now_us + COMMAND_US, &["?".to_owned()]);
        };
        let pairs = digits.chunks_exact(2);
        let expected = match pairs.remainder() {
            [count] if *count > 0 => Some(usize::from(*count)),
            _ => None,
        };
        let bytes: Vec<u8> = pairs
            .map(|pair| pair.iter().fold(0, |byte, digit| byte << 4 | digit))
            .collect();
        match self.mishaps.of_request(now_us) {
            Some(Mishap::Restarts) => {
                return self.start_over(now_us + RESET_US, self.car.adapter_name());
            }
            Some(Mishap::LowVoltage) => return self.start_over(now_us + RESET_US, "LV RESET"),
            Some(Mishap::BufferFull) => {
                return self.finish(now_us + COMMAND_US, &["BUFFER FULL".to_owned()]);
            }
            Some(Mishap::Echoes) => self.settings.echo = true,
            _ => {}
        }
        let start_us = now_us.max(self.line_free_us as u64);
        match self.connect(start_us) {
            Some(ready_us) => self.ask(&bytes, expected, ready_us),
            None => self.busy_until_us = self.line_free_us as u64,
        }
    }

    fn ask(&mut self, request: &[u8], expected: Option<usize>, ready_us: u64) {
        let bus = self.car.bus();
        let sent_us = ready_us + wire::request_us(bus, request.len());
        let (header, target) = self.settings.target(bus, request.len());
        self.bus_log
            .add(sent_us, &header, request, Purpose::Request);
        self.car.advance_to(sent_us);
        let answers = match target {
            Target::Nobody => Vec::new(),
            Target::All => self.car.answer(request),
            Target::One(controller) => self.car.answer_of(controller, request),
        };
        let mut frames = frame::frames(&answers, sent_us, bus, self.car.padding());
        self.hear(&mut frames, sent_us);
        self.let_go_on(&frames);
        self.bus_used_us = frames.last().map_or(sent_us, |frame| frame.at_us);
        let only = self.settings.only_from;
        frames.retain(|frame| only.is_none_or(|from| from == frame.from));
        let complete = expected.is_some_and(|count| frames.len() >= count);
        frames.truncate(expected.unwrap_or(usize::MAX));
        let Some(last) = frames.last() else {
            return self.finish(
                sent_us + self.settings.timeout_us(),
                &["NO DATA".to_owned()],
            );
        };
        let last_us = last.at_us;
        for frame in &frames {
            self.print(frame);
        }
        let done_us = if complete {
            last_us
        } else {
            last_us + self.patience_us()
        };
        self.finish(done_us, &[]);
    }

    /// Long answers on CAN go on when the adapter asks for it: 30, no limit, no pause (ISO 15765-2).
    fn let_go_on(&self, frames: &[Frame]) {
        for frame in frames.iter().filter(|frame| frame.is_first()) {
            let header = frame::physical_header(frame.from);
            self.bus_log
                .add(frame.at_us, &header, &[0x30, 0, 0], Purpose::FlowControl);
        }
    }

    /// Listens as long as it has patience: what comes later is lost. Learns how long this car may be silent before more
    /// comes: on CAN by whole answers, else by single frames.
    fn hear(&mut self, frames: &mut Vec<Frame>, sent_us: u64) {
        let mut before_us = sent_us;
        let mut until_us = sent_us + self.settings.timeout_us();
        let is_can = self.car.bus().is_can();
        frames.retain(|frame| {
            if frame.at_us > until_us {
                return false;
            }
            self.slowest_us = self.slowest_us.max(frame.at_us - before_us);
            before_us = if is_can { before_us } else { frame.at_us };
            until_us = frame.at_us + self.patience_us();
            true
        });
    }

    /// How long it waits for more after an answer.
    fn patience_us(&self) -> u64 {
        let whole = self.settings.timeout_us();
        match self.settings.adaptive {
            0 => whole,
            1 => (2 * self.slowest_us + ADAPTED_US).min(whole),
            _ => (self.slowest_us + ADAPTED_US).min(whole),
        }
    }

    fn print(&mut self, frame: &Frame) {
        for line in frame.lines(&self.settings) {
            let text = line + self.line_end();
            self.say(frame.at_us, text.as_bytes());
        }
    }

    const fn line_end(&self) -> &'static str {
        if self.settings.linefeeds {
            "\r\n"
        } else {
            "\r"
        }
    }

    /// Says the last lines, an empty one and the prompt; until then the adapter is busy.
    fn finish(&mut self, at_us: u64, lines: &[String]) {
        let end = self.line_end();
        let mut text = String::new();
        for line in lines {
            text += line;
            text += end;
        }
        text += end;
        text.push('>');
        self.say(at_us, text.as_bytes());
        self.busy_until_us = self.line_free_us as u64;
    }

    /// Puts bytes on the line, not before `at_us`.
    fn say(&mut self, at_us: u64, bytes: &[u8]) {
        let mut free = self.line_free_us.max(at_us as f64);
        let bytes = self.mishaps.spoil(bytes, at_us);
        for chunk in bytes.chunks(CHUNK.min(self.mishaps.burst(at_us))) {
            free += self.byte_us * chunk.len() as f64;
            self.output.push_back((free.ceil() as u64, chunk.to_vec()));
        }
        self.line_free_us = free;
    }
}

fn digit(byte: u8) -> Option<u8> {
    char::from(byte).to_digit(16).map(|digit| digit as u8)
}

#[cfg(test)]
mod tests;
