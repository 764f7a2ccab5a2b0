//! Whole conversations with an adapter, written by hand from the standards, driven without port and
//! clock.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod asking;
mod newer_cars;
mod recovering;
mod setting_up;
mod setting_up_fails;

use std::collections::VecDeque;

use pintle_protocol::{
    adapter::Notice,
    dialogue::{
        Answer, Connection, Dialogue, Event, NoAnswer, RecoveryStep, Settings, SetupFailure, Why,
    },
};

/// An adapter that is told beforehand what it hears and what it says: one entry a turn.
struct Script {
    dialogue: Dialogue,
    turns: VecDeque<(&'static str, &'static str)>,
    now_us: u64,
    /// Bytes that come in one read.
    chunk: usize,
}

type Turns = [(&'static str, &'static str)];

/// Stands in a script for an adapter that says nothing.
const SILENCE: &str = "";

impl Script {
    fn open(turns: &Turns) -> Self {
        let mut script = Self {
            dialogue: Dialogue::new(Settings::default()),
            turns: turns.iter().copied().collect(),
            now_us: 0,
            chunk: usize::MAX,
        };
        script.dialogue.handle_opened(0);
        script
    }

    fn then(&mut self, turns: &Turns) -> &mut Self {
        self.turns.extend(turns);
        self
    }

    /// Makes a request, plays its turns and gives the events.
    fn ask(&mut self, request: &[u8], turns: &Turns) -> Vec<Event> {
        self.dialogue.request(self.now_us, request, None).unwrap();
        self.then(turns).play()
    }

    /// Plays the script to its end; 10 ms a turn, silence lasts until the deadline. Gives the
    /// events.
    fn play(&mut self) -> Vec<Event> {
        let mut events = Vec::new();
        loop {
            events.extend(std::iter::from_fn(|| self.dialogue.poll_event()));
            let Some(bytes) = self.dialogue.poll_transmit() else {
                match self.dialogue.next_deadline() {
                    Some(deadline) => {
                        assert!(deadline > self.now_us, "a deadline lies ahead");
                        self.now_us = deadline;
                        self.dialogue.handle_timeout(deadline);
                        continue;
                    }
                    None => break,
                }
            };
            let said = String::from_utf8(bytes).unwrap();
            let Some((expected, answer)) = self.turns.pop_front() else {
                panic!("nothing more was expected, but the dialogue says {said:?}");
            };
            assert_eq!(said, format!("{expected}\r"));
            if answer != SILENCE {
                self.now_us += 10_000;
                for chunk in answer.as_bytes().chunks(self.chunk) {
                    self.dialogue.handle_bytes(self.now_us, chunk);
                }
            }
        }
        assert_eq!(self.turns, [], "the script was played to its end");
        events
    }
}

/// Settings of an adapter that does as it is told.
const SETTINGS: [(&str, &str); 5] = [
    ("ATE0", "ATE0\rOK\r\r>"),
    ("ATL0", "OK\r\r>"),
    ("ATS0", "OK\r\r>"),
    ("ATH1", "OK\r\r>"),
    ("ATAT1", "OK\r\r>"),
];

/// Reset of the adapter, and its answer.
const RESET: (&str, &str) = ("ATZ", "ATZ\r\r\rSERIAL ADAPTER v3.2\r\r>");

/// Name, voltage, and the order to search for the bus.
const ABOUT: [(&str, &str); 3] = [
    ("ATI", "SERIAL ADAPTER v3.2\r\r>"),
    ("ATRV", "12.6V\r\r>"),
    ("ATSP0", "OK\r\r>"),
];

/// Search and discovery of a CAN car with engine and transmission controller. The transmission
/// controller answers first.
const CAN_CAR: [(&str, &str); 8] = [
    (
        "0100",
        "SEARCHING...\r7E8064100BE3FA81300\r7E90641009818800100\r\r>",
    ),
    ("ATDPN", "A6\r\r>"),
    ("0100", "7E90641009818800100\r7E8064100BE3FA81300\r\r>"),
    ("0120", "7E80641208005B01100\r7E90641200000000000\r\r>"),
    ("0140", "7E8064140FED0000000\r\r>"),
    ("0600", "7E8064600C000000100\r\r>"),
    ("0620", "NO DATA\r\r>"),
    ("0900", "7E80649005440000000\r\r>"),
];

/// A fresh script: set-up of a well-behaved adapter, then these turns.
fn set_up(turns: &Turns) -> Script {
    let mut script = Script::open(&[RESET]);
    script.then(&SETTINGS).then(&ABOUT).then(turns);
    script
}

/// A script that has been played up to the connection.
fn connected() -> Script {
    let mut script = set_up(&CAN_CAR);
    connection(script.play());
    script
}

fn connection(events: Vec<Event>) -> Connection {
    match <[Event; 1]>::try_from(events) {
        Ok([Event::Connected(connection)]) => connection,
        other => panic!("expected a connection, found {other:?}"),
    }
}

fn failure(events: Vec<Event>) -> SetupFailure {
    match <[Event; 1]>::try_from(events) {
        Ok([Event::SetupFailed(failure)]) => failure,
        other => panic!("expected a failure, found {other:?}"),
    }
}

fn answer(events: Vec<Event>) -> Answer {
    match <[Event; 1]>::try_from(events) {
        Ok([Event::Answer(answer)]) => answer,
        other => panic!("expected an answer, found {other:?}"),
    }
}

fn no_answer(events: Vec<Event>) -> NoAnswer {
    match <[Event; 1]>::try_from(events) {
        Ok([Event::NoAnswer(no_answer)]) => no_answer,
        other => panic!("expected no answer, found {other:?}"),
    }
}

/// The kinds of events, in short: a step of recovery by its name.
fn story(events: &[Event]) -> Vec<String> {
    let word = |event: &Event| match event {
        Event::Connected(_) => "connected".to_owned(),
        Event::SetupFailed(_) => "failed".to_owned(),
        Event::Answer(_) => "answer".to_owned(),
        Event::NoAnswer(no_answer) => no_answer.why.to_string(),
        Event::LinkTrouble { step, .. } => format!("{step:?}"),
        Event::Restarted { .. } => "restarted".to_owned(),
        Event::Recovered => "recovered".to_owned(),
        Event::CarSilent { .. } => "car silent".to_owned(),
        Event::CarKeepsWaiting { .. } => "keeps waiting".to_owned(),
        Event::NeedReopen { .. } => "reopen".to_owned(),
    };
    events.iter().map(word).collect()
}

/// Request for the engine speed (SAE J1979).
const SPEED: [u8; 2] = [0x01, 0x0C];

/// Answer of the engine controller to [`SPEED`].
const SPEED_REPLY: &str = "7E804410C0BB8000000\r\r>";
