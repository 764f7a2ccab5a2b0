//! Whole conversations with an adapter, written by hand from the standards, driven without port and
//! clock.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

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

const RESET: (&str, &str) = ("ATZ", "ATZ\r\r\rSERIAL ADAPTER v1.5\r\r>");

/// Name, voltage, and the order to search for the bus.
const ABOUT: [(&str, &str); 3] = [
    ("ATI", "SERIAL ADAPTER v1.5\r\r>"),
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
        Event::NeedReopen { .. } => "reopen".to_owned(),
    };
    events.iter().map(word).collect()
}

const SPEED: [u8; 2] = [0x01, 0x0C];
const SPEED_REPLY: &str = "7E804410C0BB8000000\r\r>";

mod setting_up {
    use super::*;

    #[test]
    fn a_can_car_is_found_with_its_controllers() {
        let connection = connection(set_up(&CAN_CAR).play());
        assert_eq!(connection.protocol.id(), "iso15765-11-500");
        assert_eq!(connection.voltage, Some(12.6));
        let name = connection.adapter.name.as_deref();
        assert_eq!(name, Some("SERIAL ADAPTER v1.5"));
        assert_eq!(connection.adapter.refused, [""; 0]);
        let engine = connection.engine().unwrap();
        assert_eq!(engine.address.unwrap().to_string(), "7E8");
        assert!(engine.parameters.contains(0x06) && engine.parameters.contains(0x0C));
        assert!(engine.monitors.contains(0x01));
        assert!(engine.information.contains(0x02));
        let other = connection.controllers[1].address.unwrap().to_string();
        assert_eq!((connection.controllers.len(), other.as_str()), (2, "7E9"));
    }

    #[test]
    fn a_can_car_with_long_identifiers_is_found() {
        let car = [
            ("0100", "18DAF110064100BE3FA81200\r\r>"),
            ("ATDPN", "7\r\r>"),
            ("0100", "18DAF110064100BE3FA81200\r\r>"),
            ("0600", "NO DATA\r\r>"),
            ("0900", "NO DATA\r\r>"),
        ];
        let connection = connection(set_up(&car).play());
        assert_eq!(connection.protocol.id(), "iso15765-29-500");
        let engine = connection.engine().unwrap();
        assert_eq!(engine.address.unwrap().to_string(), "18DAF110");
    }

    // On K-line and J1850 service 06 has maker-specific content: its masks are not asked for.
    #[test]
    fn cars_before_can_are_found() {
        let kline = [
            (
                "0100",
                "SEARCHING...BUS INIT: ...OK\r486B104100BE3EB810C8\r\r>",
            ),
            ("ATDPN", "A3\r\r>"),
            ("0100", "486B104100BE3EB810C8\r\r>"),
            ("0900", "486B104900015400000061\r\r>"),
        ];
        let fast = [
            ("0100", "BUS INIT: OK\r86F1104100BE3EB8108C\r\r>"),
            ("ATDPN", "A5\r\r>"),
            ("0100", "86F1104100BE3EB8108C\r\r>"),
            ("0900", "NO DATA\r\r>"),
        ];
        let j1850 = [
            ("0100", "SEARCHING...\r486B104100BE3EB810E7\r\r>"),
            ("ATDPN", "A2\r\r>"),
            ("0100", "486B104100BE3EB810E7\r\r>"),
            ("0900", "NO DATA\r\r>"),
        ];
        for (car, id) in [
            (&kline, "iso9141-2"),
            (&fast, "iso14230-4-fast"),
            (&j1850, "j1850-vpw"),
        ] {
            let connection = connection(set_up(car).play());
            assert_eq!(connection.protocol.id(), id);
            let engine = connection.engine().unwrap();
            assert_eq!(engine.address.unwrap().to_string(), "10");
            assert!(engine.parameters.contains(0x0C) && engine.monitors.is_empty());
        }
        let connection = connection(set_up(&kline).play());
        assert!(connection.engine().unwrap().information.contains(0x02));
    }

    #[test]
    fn an_adapter_that_takes_only_some_settings_is_coped_with() {
        let mut script = Script::open(&[
            ("ATZ", "ATZ\r\n\r\nSERIAL ADAPTER v1.0\r\n\r\n>"),
            ("ATE0", "ATE0\r\n?\r\n\r\n>"),
            ("ATL0", "ATL0\r\n?\r\n\r\n>"),
            ("ATS0", "ATS0\r\n?\r\n\r\n>"),
            ("ATH1", "ATH1\r\nOK\r\n\r\n>"),
            ("ATAT1", "ATAT1\r\n?\r\n\r\n>"),
            ("ATI", "ATI\r\nSERIAL ADAPTER v1.0\r\n\r\n>"),
            ("ATRV", "ATRV\r\n?\r\n\r\n>"),
            ("ATSP0", "ATSP0\r\nOK\r\n\r\n>"),
            (
                "0100",
                "0100\r\nSEARCHING...\r\n7E8 06 41 00 BE 3F A8 12 00 \r\n\r\n>",
            ),
            ("ATDPN", "ATDPN\r\n?\r\n\r\n>"),
            ("0100", "0100\r\n7E8 06 41 00 BE 3F A8 12 00 \r\n\r\n>"),
            ("0600", "0600\r\nNO DATA\r\n\r\n>"),
            ("0900", "0900\r\nNO DATA\r\n\r\n>"),
        ]);
        let connection = connection(script.play());
        // it does not say which speed the bus has, and that is not guessed
        assert_eq!(connection.protocol.id(), "iso15765-11");
        assert_eq!(connection.voltage, None);
        assert_eq!(
            connection.adapter.refused,
            [
                "echo off",
                "line feeds off",
                "spaces off",
                "adaptive timing"
            ]
        );
        let reply = "010C\r\n7E8 04 41 0C 0B B8 00 00 00 \r\n\r\n>";
        let answer = answer(script.ask(&SPEED, &[("010C", reply)]));
        assert_eq!(answer.messages[0].payload, [0x41, 0x0C, 0x0B, 0xB8]);
    }

    #[test]
    fn an_echo_that_stays_although_it_was_switched_off_is_coped_with() {
        let mut script = Script::open(&[
            ("ATZ", "ATZ\r\rSERIAL ADAPTER v1.5\r\r>"),
            ("ATE0", "ATE0\rOK\r\r>"),
            ("ATL0", "ATL0\rOK\r\r>"),
            ("ATS0", "ATS0\rOK\r\r>"),
            ("ATH1", "ATH1\rOK\r\r>"),
            ("ATAT1", "ATAT1\rOK\r\r>"),
            ("ATI", "ATI\rSERIAL ADAPTER v1.5\r\r>"),
            ("ATRV", "ATRV\r12.4V\r\r>"),
            ("ATSP0", "ATSP0\rOK\r\r>"),
            ("0100", "0100\r7E8064100BE3FA812\r\r>"),
            ("ATDPN", "ATDPN\rA6\r\r>"),
            ("0100", "0100\r7E8064100BE3FA812\r\r>"),
            ("0600", "0600\rNO DATA\r\r>"),
            ("0900", "0900\rNO DATA\r\r>"),
        ]);
        let connection = connection(script.play());
        assert_eq!(connection.adapter.refused, ["echo off"]);
        let answer = answer(script.ask(&SPEED, &[("010C", "010C\r7E804410C0BB8\r\r>")]));
        assert_eq!(answer.messages[0].payload, [0x41, 0x0C, 0x0B, 0xB8]);
    }

    #[test]
    fn an_adapter_that_shows_no_headers_is_coped_with() {
        let mut script = set_up(&[
            ("0100", "4100BE3FA812\r\r>"),
            ("ATDPN", "A6\r\r>"),
            ("0100", "4100BE3FA812\r\r>"),
            ("0600", "NO DATA\r\r>"),
            ("0900", "490054400000\r\r>"),
        ]);
        let connection = connection(script.play());
        assert_eq!(connection.engine().unwrap().address, None);
        let answer = answer(script.ask(&SPEED, &[("010C", "410C0BB8\r\r>")]));
        assert_eq!(answer.messages[0].from, None);
    }

    #[test]
    fn a_name_of_the_bus_that_does_not_fit_is_not_believed() {
        let mut car = CAN_CAR;
        car[1] = ("ATDPN", "A3\r\r>");
        assert_eq!(connection(set_up(&car).play()).protocol.id(), "iso15765-11");
    }

    #[test]
    fn bytes_may_come_one_at_a_time() {
        let mut script = set_up(&CAN_CAR);
        script.chunk = 1;
        assert_eq!(
            connection(script.play()),
            connection(set_up(&CAN_CAR).play())
        );
    }

    #[test]
    fn a_reset_that_only_stopped_something_is_said_again() {
        let mut script = Script::open(&[("ATZ", "7E804\rSTOPPED\r\r>"), RESET]);
        script.then(&SETTINGS).then(&ABOUT).then(&CAN_CAR);
        connection(script.play());
    }

    #[test]
    fn a_restart_halfway_makes_all_settings_again() {
        let mut script = Script::open(&[RESET, SETTINGS[0], ("ATL0", "LV RESET\r\r>")]);
        script.then(&SETTINGS).then(&ABOUT).then(&CAN_CAR);
        connection(script.play());
        let mut restarting = Script::open(&[RESET]);
        restarting.then(&[("ATE0", "SERIAL ADAPTER v1.5\r\r>"); 3]);
        assert_eq!(failure(restarting.play()), SetupFailure::AdapterRestarts);
    }

    #[test]
    fn a_restart_during_the_search_makes_all_settings_again_and_searches_anew() {
        let low = ("0100", "SEARCHING...\rLV RESET\r\r>");
        let mut script = Script::open(&[RESET]);
        script.then(&SETTINGS).then(&ABOUT).then(&[low]);
        script.then(&SETTINGS).then(&ABOUT[2..]).then(&CAN_CAR);
        let connection = connection(script.play());
        assert!(connection.engine().unwrap().address.is_some());
        let mut restarting = Script::open(&[RESET]);
        restarting.then(&SETTINGS).then(&ABOUT).then(&[low]);
        for _ in 0..2 {
            restarting.then(&SETTINGS).then(&ABOUT[2..]).then(&[low]);
        }
        assert_eq!(failure(restarting.play()), SetupFailure::AdapterRestarts);
    }

    #[test]
    fn a_damaged_mask_is_asked_for_again() {
        let mut script = set_up(&CAN_CAR[..2]);
        script.then(&[("0100", "7E8064100BE3F\r7E90641009818800100\r\r>")]);
        script.then(&CAN_CAR[2..]);
        let connection = connection(script.play());
        assert!(connection.engine().unwrap().parameters.contains(0x06));
    }
}

// ISO 14229-1: asked by a functional address, a controller keeps silent about services and items that
// it does not have; asked alone it says 11 or 31. SAE J1979-2: F400 answers what 01 00 did.
mod newer_cars {
    use pintle_protocol::service::Services;

    use super::*;

    /// Discovery of a newer car once its bus is known: `22 F400` and the masks that follow.
    const MASKS: [(&str, &str); 5] = [
        ("22F400", "7E90762F40098188000\r7E80762F400BE3FA813\r\r>"),
        ("22F420", "7E80762F4208005B010\r\r>"),
        ("22F600", "7E80762F600C0000001\r\r>"),
        ("22F620", "7E80762F62080000000\r\r>"),
        ("22F800", "7E80762F80054400000\r\r>"),
    ];

    const FOUND: (&str, &str) = ("22F400", "SEARCHING...\r7E80762F400BE3FA813\r\r>");

    fn found_newer(mut script: Script) -> Connection {
        let connection = connection(script.play());
        assert_eq!(connection.services, Services::Iso14229);
        let engine = connection.engine().unwrap();
        assert_eq!(engine.address.unwrap().to_string(), "7E8");
        assert!(engine.parameters.contains(0x06) && engine.parameters.contains(0x21));
        assert!(engine.monitors.contains(0x21) && engine.information.contains(0x02));
        connection
    }

    #[test]
    fn a_car_silent_to_service_01_is_found_by_identifiers() {
        for silence in ["NO DATA\r\r>", "SEARCHING...\rUNABLE TO CONNECT\r\r>"] {
            let mut script = set_up(&[("0100", silence), FOUND, ("ATDPN", "A6\r\r>")]);
            script.then(&MASKS);
            let connection = found_newer(script);
            assert_eq!(connection.protocol.id(), "iso15765-11-500");
            assert_eq!(connection.controllers.len(), 2);
        }
    }

    #[test]
    fn a_car_that_refuses_service_01_is_found_by_identifiers() {
        let refusal = "SEARCHING...\r7E8037F0111\r\r>";
        let mut script = set_up(&[("0100", refusal), ("ATDPN", "A6\r\r>"), FOUND]);
        script.then(&[("ATDPN", "A6\r\r>")]).then(&MASKS);
        found_newer(script);
    }

    #[test]
    fn a_car_that_answers_both_is_asked_by_the_services_of_its_engine() {
        // service 01 is answered by the transmission controller alone, without engine speed
        let transmission = "7E90641008008000000\r\r>";
        let mut script = set_up(&[("0100", transmission), ("ATDPN", "A6\r\r>")]);
        script.then(&[("0100", transmission)]).then(&MASKS);
        found_newer(script);
        // and no newer controller is there either
        let mut script = set_up(&[("0100", transmission), ("ATDPN", "A6\r\r>")]);
        script.then(&[
            ("0100", transmission),
            ("22F400", "NO DATA\r\r>"),
            ("0600", "NO DATA\r\r>"),
            ("0900", "NO DATA\r\r>"),
        ]);
        let connection = connection(script.play());
        assert_eq!(connection.services, Services::SaeJ1979);
        assert_eq!(connection.controllers.len(), 1);
        // an engine that answers service 01 is asked by nothing else
        let connection = super::connection(set_up(&CAN_CAR).play());
        assert_eq!(connection.services, Services::SaeJ1979);
    }

    fn connected() -> Script {
        let mut script = set_up(&[("0100", "NO DATA\r\r>"), FOUND, ("ATDPN", "A6\r\r>")]);
        script.then(&MASKS);
        connection(script.play());
        script
    }

    #[test]
    fn a_wait_is_waited_for_and_a_no_is_told() {
        let request = [0x22, 0xF4, 0x0C];
        let wait = ("22F40C", "7E8037F2278\r\r>");
        let told = ("22F40C", "7E80562F40C0BB8\r\r>");
        let answer = answer(connected().ask(&request, &[wait, told]));
        assert_eq!(answer.messages[0].payload, [0x62, 0xF4, 0x0C, 0x0B, 0xB8]);
        let refused = connected().ask(&request, &[("22F40C", "7E8037F2231\r\r>")]);
        assert_eq!(no_answer(refused).why.to_string(), "negative:31");
        let silent = connected().ask(&request, &[("22F40C", "NO DATA\r\r>")]);
        assert_eq!(no_answer(silent).why, Why::Adapter(Notice::NoData));
    }

    /// Clearing is asked for once, whatever becomes of it.
    #[test]
    fn a_clear_is_never_repeated() {
        let mut script = connected();
        let clear = [0x14, 0xFF, 0xFF, 0x33];
        let waiting = script.ask(&clear, &[("14FFFF33", "7E8037F1478\r\r>")]);
        assert_eq!(no_answer(waiting).why, Why::StillPending);
        let garbled = script.ask(&clear, &[("14FFFF33", "<RX ERROR\r\r>")]);
        assert!(matches!(garbled[0], Event::NoAnswer(_)), "{garbled:?}");
    }
}

mod setting_up_fails {
    use super::*;

    #[test]
    fn a_silent_port() {
        let mut script = Script::open(&[("ATZ", SILENCE), ("ATZ", SILENCE)]);
        assert_eq!(failure(script.play()), SetupFailure::AdapterSilent);
        assert!(script.now_us <= 10_000_000, "it is known within seconds");
        assert!(!script.dialogue.is_ready());
    }

    #[test]
    fn a_port_of_another_speed() {
        let mut script = Script::open(&[("ATZ", "\u{FE}\u{F8}x\u{80}"), ("ATZ", "\u{FE}\u{F8}")]);
        assert_eq!(failure(script.play()), SetupFailure::NotReadable);
    }

    #[test]
    fn devices_that_are_no_adapter() {
        let not_an_adapter = |heard: &str| SetupFailure::NotAnAdapter {
            heard: heard.to_owned(),
        };
        // one that sends back what it hears, one that takes the reset for its own, one with a
        // prompt of its own
        let mut script = Script::open(&[("ATZ", "ATZ\r"), ("ATZ", "ATZ\r")]);
        assert_eq!(failure(script.play()), not_an_adapter("ATZ"));
        let mut script = Script::open(&[("ATZ", "ATZ\r\r\nOK\r\n"), ("ATZ", "\r\nOK\r\n")]);
        assert_eq!(failure(script.play()), not_an_adapter("OK"));
        let no = |said| (said, "bad command\r\nrouter>");
        let mut script = Script::open(&[no("ATZ"), no("ATZ"), no("ATE0"), no("ATL0"), no("ATS0")]);
        script.then(&[no("ATH1"), no("ATAT1")]);
        assert_eq!(failure(script.play()), not_an_adapter("bad command"));
    }

    #[test]
    fn a_device_that_never_stops_talking() {
        let mut dialogue = Dialogue::new(Settings::default());
        dialogue.handle_opened(0);
        let mut now_us = 0;
        let event = loop {
            dialogue.poll_transmit();
            if let Some(event) = dialogue.poll_event() {
                break event;
            }
            now_us += 100_000;
            assert!(now_us < 60_000_000, "it must end within a minute");
            dialogue.handle_bytes(now_us, b"$POSITION,12.5,N\r\n");
            dialogue.handle_timeout(now_us);
        };
        let failure = SetupFailure::NotAnAdapter {
            heard: "$POSITION,12.5,N".to_owned(),
        };
        assert_eq!(event, Event::SetupFailed(failure));
    }

    #[test]
    fn a_car_that_does_not_answer() {
        for (reply, notice) in [
            (
                "SEARCHING...\rUNABLE TO CONNECT\r\r>",
                Notice::UnableToConnect,
            ),
            ("NO DATA\r\r>", Notice::NoData),
            ("SEARCHING...BUS INIT: ...ERROR\r\r>", Notice::BusAsleep),
        ] {
            // neither by service 01 nor as newer cars do
            let mut script = set_up(&[("0100", reply), ("22F400", "NO DATA\r\r>")]);
            let silent = SetupFailure::CarSilent {
                notice,
                voltage: Some(12.6),
            };
            assert_eq!(failure(script.play()), silent);
        }
        let trouble = [("0100", "CAN ERROR\r\r>"), ("ATDPN", "A6\r\r>")];
        let mut script = set_up(&trouble);
        script.then(&trouble);
        let silent = SetupFailure::CarSilent {
            notice: Notice::CanError,
            voltage: Some(12.6),
        };
        assert_eq!(failure(script.play()), silent);
    }

    #[test]
    fn a_car_whose_answer_cannot_be_read() {
        let unreadable = [("0100", "12345\r\r>"), ("ATDPN", "A6\r\r>")];
        let mut script = set_up(&unreadable);
        script.then(&unreadable);
        let line = "12345".to_owned();
        assert_eq!(
            failure(script.play()),
            SetupFailure::AnswerNotReadable { line }
        );
    }

    #[test]
    fn opening_again_begins_anew() {
        let mut script = Script::open(&[("ATZ", SILENCE), ("ATZ", SILENCE)]);
        failure(script.play());
        script.dialogue.handle_opened(script.now_us);
        script
            .then(&[RESET])
            .then(&SETTINGS)
            .then(&ABOUT)
            .then(&CAN_CAR);
        connection(script.play());
    }

    #[test]
    fn a_search_may_take_its_time() {
        let mut dialogue = Dialogue::new(Settings::default());
        dialogue.handle_opened(0);
        let replies = [RESET].into_iter().chain(SETTINGS).chain(ABOUT);
        for (_, reply) in replies {
            dialogue.poll_transmit().unwrap();
            dialogue.handle_bytes(0, reply.as_bytes());
        }
        assert_eq!(dialogue.poll_transmit().unwrap(), b"0100\r");
        dialogue.handle_bytes(100_000, b"SEARCHING...");
        assert!(dialogue.next_deadline().unwrap() >= 30_000_000);
        dialogue.handle_timeout(20_000_000);
        dialogue.handle_bytes(25_000_000, b"\r7E8064100BE3FA81300\r\r>");
        assert_eq!(dialogue.poll_transmit().unwrap(), b"ATDPN\r");
    }
}

mod asking {
    use super::*;

    #[test]
    fn an_answer_has_its_times_and_lines() {
        let mut script = connected();
        let asked_at = script.now_us;
        let request = [0x01, 0x0C, 0x06];
        script
            .dialogue
            .request(asked_at, &request, Some(1))
            .unwrap();
        script.then(&[("010C061", "7E806410C0BB8067F00\r\r>")]);
        let answer = answer(script.play());
        assert_eq!(answer.request, request);
        assert_eq!(
            answer.messages[0].payload,
            [0x41, 0x0C, 0x0B, 0xB8, 0x06, 0x7F]
        );
        assert_eq!((answer.lines, answer.damaged), (1, 0));
        assert_eq!(answer.asked_at_us, asked_at);
        assert_eq!(answer.answered_at_us, asked_at + 10_000);
        assert!(script.dialogue.is_ready());
        assert_eq!(script.dialogue.counts().answers, 1);
    }

    #[test]
    fn a_second_request_has_to_wait() {
        let mut script = connected();
        let now = script.now_us;
        script.dialogue.request(now, &SPEED, None).unwrap();
        assert!(script.dialogue.request(now, &SPEED, None).is_err());
        assert!(connected().dialogue.request(now, &[], None).is_err());
    }

    #[test]
    fn no_is_an_answer_too() {
        let mut script = connected();
        let refused = no_answer(script.ask(&SPEED, &[("010C", "7E8037F011200000000\r\r>")]));
        assert_eq!(refused.why.to_string(), "negative:12");
        let silent = no_answer(script.ask(&SPEED, &[("010C", "NO DATA\r\r>")]));
        assert_eq!(silent.why, Why::Adapter(Notice::NoData));
        assert_eq!(silent.why.to_string(), "NO DATA");
    }

    // ISO 14229-1: after 78 the answer may take seconds; it comes either in the same reply or when
    // asked again
    #[test]
    fn a_controller_that_asks_to_wait_is_waited_for() {
        let wait = "7E8037F097800000000\r";
        let number = "7E81014490201485244\r7E82154455354303030\r7E82230303030303033\r\r>";
        let whole: &'static str = format!("{wait}{number}").leak();
        let waiting: &'static str = format!("{wait}\r>").leak();
        let mut script = connected();
        assert_eq!(
            answer(script.ask(&[0x09, 0x02], &[("0902", whole)]))
                .messages
                .len(),
            1
        );
        let turns = [("0902", waiting), ("0902", waiting), ("0902", number)];
        assert_eq!(answer(script.ask(&[0x09, 0x02], &turns)).messages.len(), 1);
    }

    #[test]
    fn a_wait_without_end_is_given_up() {
        let mut script = connected();
        let mut dialogue_turns = 0;
        script
            .dialogue
            .request(script.now_us, &SPEED, None)
            .unwrap();
        let begun = script.now_us;
        let why = loop {
            if script.dialogue.poll_transmit().is_some() {
                dialogue_turns += 1;
                script.now_us += 10_000;
                let wait = b"7E8037F017800000000\r\r>";
                script.dialogue.handle_bytes(script.now_us, wait);
            }
            match script.dialogue.poll_event() {
                Some(Event::NoAnswer(no_answer)) => break no_answer.why,
                Some(other) => panic!("{other:?}"),
                None => {}
            }
            script.now_us = script.dialogue.next_deadline().unwrap();
            script.dialogue.handle_timeout(script.now_us);
        };
        assert_eq!(why, Why::StillPending);
        assert!(dialogue_turns < 50 && script.now_us - begun < 10_000_000);
    }

    // SAE J1979 on ISO 9141-2: one parameter a request, the identification number in five counted
    // messages
    #[test]
    fn a_kline_car_is_asked_and_its_bus_may_fall_asleep() {
        let mut script = set_up(&[
            ("0100", "BUS INIT: ...OK\r486B104100BE3EB810C8\r\r>"),
            ("ATDPN", "A3\r\r>"),
            ("0100", "486B104100BE3EB810C8\r\r>"),
            ("0900", "486B104900015400000061\r\r>"),
        ]);
        connection(script.play());
        let number = "486B10490201000000 4857\r486B1049020252445445 3F\r486B1049020353543030 18\r\
                      486B1049020430303030 D2\r486B1049020530303033 D6\r\r>";
        let number = answer(script.ask(&[0x09, 0x02], &[("0902", number)]));
        assert_eq!(number.messages[0].payload, b"\x49\x02\x01HRDTEST0000000003");

        script
            .dialogue
            .request(script.now_us, &SPEED, None)
            .unwrap();
        assert_eq!(script.dialogue.poll_transmit().unwrap(), b"010C\r");
        script.dialogue.handle_bytes(script.now_us, b"BUS INIT: ");
        script.now_us += 5_000_000;
        script.dialogue.handle_timeout(script.now_us);
        let rest = b"...OK\r486B10410C1AF822\r\r>";
        script.dialogue.handle_bytes(script.now_us, rest);
        assert_eq!(
            answer(script.play()).messages[0].payload,
            [0x41, 0x0C, 0x1A, 0xF8]
        );
        let asleep = script.ask(&SPEED, &[("010C", "BUS INIT: ...ERROR\r\r>")]);
        assert_eq!(no_answer(asleep).why, Why::Adapter(Notice::BusAsleep));
    }

    #[test]
    fn a_car_that_falls_silent_is_reported_once() {
        let mut script = connected();
        let silent = |script: &mut Script| script.ask(&SPEED, &[("010C", "NO DATA\r\r>")]);
        let all: Vec<Event> = (0..20).flat_map(|_| silent(&mut script)).collect();
        let story = story(&all);
        assert_eq!(story.iter().filter(|word| *word == "car silent").count(), 1);
        let events = script.ask(&SPEED, &[("010C", SPEED_REPLY)]);
        assert_eq!(self::story(&events), ["recovered", "answer"]);
        assert_eq!(
            self::story(&script.ask(&SPEED, &[("010C", SPEED_REPLY)])),
            ["answer"]
        );
    }

    #[test]
    fn losing_the_port_ends_the_request() {
        let mut script = connected();
        script
            .dialogue
            .request(script.now_us, &SPEED, None)
            .unwrap();
        script.dialogue.handle_lost(script.now_us);
        assert_eq!(no_answer(script.play()).why, Why::LinkLost);
        assert_eq!(script.dialogue.next_deadline(), None);
        assert!(
            script
                .dialogue
                .request(script.now_us, &SPEED, None)
                .is_err()
        );
    }
}

mod recovering {
    use super::*;

    /// The events of one request as a story.
    fn ask(script: &mut Script, turns: &Turns) -> Vec<String> {
        story(&script.ask(&SPEED, turns))
    }

    #[test]
    fn a_damaged_answer_is_asked_for_again() {
        for reply in [
            "7E804410C0B<RX ERROR\r\r>",
            "7E804410C0\r\r>",
            "7E804410D0BB8000000\r\r>",
            "DATA ERROR\r\r>",
            "BUFFER FULL\r\r>",
            "BUS BUSY\r\r>",
            "STOPPED\r\r>",
            "\r\r>",
        ] {
            let mut script = connected();
            let story = ask(&mut script, &[("010C", reply), ("010C", SPEED_REPLY)]);
            assert_eq!(story, ["AskAgain", "recovered", "answer"], "{reply:?}");
        }
    }

    #[test]
    fn what_one_controller_said_does_not_hide_that_the_other_was_damaged() {
        let mut script = connected();
        let both = "7E804410C0BB8000000\r7E904410C0BB8000000\r\r>";
        let half = "7E804410C0B\r7E904410C0BB8000000\r\r>";
        let events = script.ask(&SPEED, &[("010C", half), ("010C", both)]);
        let Some(Event::Answer(answer)) = events.last() else {
            panic!("{events:?}");
        };
        assert_eq!(answer.messages.len(), 2);
    }

    #[test]
    fn a_wrong_number_of_expected_lines_is_not_repeated() {
        let mut script = connected();
        script
            .dialogue
            .request(script.now_us, &[0x09, 0x02], Some(1))
            .unwrap();
        let number = "7E81014490201485244\r7E82154455354303030\r7E82230303030303033\r\r>";
        script.then(&[("09021", "7E81014490201485244\r\r>"), ("0902", number)]);
        assert_eq!(story(&script.play()), ["AskAgain", "recovered", "answer"]);
    }

    #[test]
    fn a_frame_shorter_than_this_car_sends_is_damaged() {
        let mut script = connected();
        let story = ask(
            &mut script,
            &[("010C", "7E804410C0BB8\r\r>"), ("010C", SPEED_REPLY)],
        );
        assert_eq!(story, ["AskAgain", "recovered", "answer"]);
    }

    #[test]
    fn damage_that_stays_ends_the_request_and_after_three_the_adapter_is_flushed() {
        let mut script = connected();
        let bad = ("010C", "7E804410C0\r\r>");
        for _ in 0..2 {
            let story = ask(&mut script, &[bad, bad]);
            assert_eq!(story[0], "AskAgain");
            assert!(story[1].starts_with("damaged:"), "{story:?}");
            assert_eq!(story.len(), 2);
        }
        let story = ask(
            &mut script,
            &[bad, bad, ("", "\r\r>"), ("010C", SPEED_REPLY)],
        );
        assert_eq!(story, ["AskAgain", "Flush", "recovered", "answer"]);
    }

    #[test]
    fn a_lost_prompt_is_flushed_out() {
        let mut script = connected();
        let story = ask(
            &mut script,
            &[
                ("010C", "7E804410C0BB8000000\r\r"),
                ("", "7E804410C0BB8000000\r\r>"),
                ("010C", SPEED_REPLY),
            ],
        );
        assert_eq!(story, ["Flush", "recovered", "answer"]);
    }

    #[test]
    fn a_hanging_adapter_is_restarted() {
        let mut script = connected();
        script.then(&[
            ("010C", SILENCE),
            ("", SILENCE),
            ("ATE0", SILENCE),
            ("ATE0", SILENCE),
        ]);
        script
            .then(&[("ATWS", "ATWS\r\r\rSERIAL ADAPTER v1.5\r\r>")])
            .then(&SETTINGS);
        script.then(&[("ATSP6", "OK\r\r>")]);
        let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
        assert_eq!(
            story,
            ["Flush", "ApplySettings", "SoftReset", "recovered", "answer"]
        );
    }

    #[test]
    fn an_adapter_that_stays_silent_needs_its_port_opened_again() {
        let mut script = connected();
        let begun = script.now_us;
        script.then(&[
            ("010C", SILENCE),
            ("", SILENCE),
            ("ATE0", SILENCE),
            ("ATE0", SILENCE),
        ]);
        let story = ask(&mut script, &[("ATWS", SILENCE), ("ATWS", SILENCE)]);
        assert_eq!(
            story,
            [
                "Flush",
                "ApplySettings",
                "SoftReset",
                "Reopen",
                "link lost",
                "reopen"
            ]
        );
        assert!(script.now_us - begun < 15_000_000, "bounded");
        assert_eq!(script.dialogue.next_deadline(), None);
        script.dialogue.handle_opened(script.now_us);
        script
            .then(&[RESET])
            .then(&SETTINGS)
            .then(&ABOUT)
            .then(&CAN_CAR);
        connection(script.play());
    }

    #[test]
    fn words_say_what_happens() {
        let mut script = connected();
        let events = script.ask(&SPEED, &[("010C", "BUS BUSY\r\r>"), ("010C", SPEED_REPLY)]);
        let Event::LinkTrouble { step, words } = &events[0] else {
            panic!("{events:?}");
        };
        assert_eq!(*step, RecoveryStep::AskAgain);
        assert_eq!(words, "the car's bus is never free; asking again");
    }

    #[test]
    fn an_adapter_that_started_over_gets_its_settings_back() {
        for reply in [
            "LV RESET\r\r>",
            "SERIAL ADAPTER v1.5\r\r>",
            // echo is on again: the banner was lost
            "010C\r41 0C 0B B8 \r\r>",
        ] {
            let mut script = connected();
            script
                .then(&[("010C", reply)])
                .then(&SETTINGS)
                .then(&[("ATSP6", "OK\r\r>")]);
            let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
            assert_eq!(story, ["restarted", "recovered", "answer"], "{reply:?}");
        }
    }

    #[test]
    fn a_restart_while_nothing_is_asked_is_noticed() {
        let mut script = connected();
        script
            .dialogue
            .handle_bytes(script.now_us, b"\r\rSERIAL ADAPTER v1.5\r\r>");
        assert!(!script.dialogue.is_ready());
        script.then(&SETTINGS).then(&[("ATSP6", "OK\r\r>")]);
        assert_eq!(story(&script.play()), ["restarted", "recovered"]);
        assert!(script.dialogue.is_ready());
    }

    #[test]
    fn restarting_without_end_is_bounded() {
        let mut script = connected();
        let restart = ("010C", "LV RESET\r\r>");
        for _ in 0..2 {
            script
                .then(&[restart])
                .then(&SETTINGS)
                .then(&[("ATSP6", "OK\r\r>")]);
        }
        // the second restart climbs on to the soft reset
        let place = script
            .turns
            .iter()
            .rposition(|turn| turn.0 == "ATE0")
            .unwrap();
        script
            .turns
            .insert(place, ("ATWS", "SERIAL ADAPTER v1.5\r\r>"));
        let story = ask(&mut script, &[restart]);
        assert_eq!(
            story,
            [
                "restarted",
                "restarted",
                "SoftReset",
                "restarted",
                "Reopen",
                "link lost",
                "reopen"
            ]
        );
    }

    // Clearing changes something in the car: it is said once, and nothing may repeat it by
    // accident.
    #[test]
    fn a_clear_request_is_never_said_twice() {
        let clear = [0x04];
        let mut script = connected();
        let events = script.ask(&clear, &[("04", "BUS BUSY\r\r>")]);
        assert_eq!(no_answer(events).why, Why::Adapter(Notice::BusBusy));
        let waiting = script.ask(&clear, &[("04", "7E8037F047800000000\r\r>")]);
        assert_eq!(no_answer(waiting).why, Why::StillPending);

        let mut script = connected();
        script.then(&[("04", SILENCE), ("ATWS", "SERIAL ADAPTER v1.5\r\r>")]);
        script.then(&SETTINGS);
        let events = script.ask(&clear, &[("ATSP6", "OK\r\r>")]);
        assert_eq!(story(&events), ["link lost", "SoftReset", "recovered"]);
    }

    #[test]
    fn no_lone_line_end_follows_a_clear_request() {
        let mut script = connected();
        answer(script.ask(&[0x04], &[("04", "7E80144000000000000\r\r>")]));
        script
            .then(&[("010C", SILENCE)])
            .then(&SETTINGS)
            .then(&[("ATSP6", "OK\r\r>")]);
        let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
        assert_eq!(story, ["ApplySettings", "recovered", "answer"]);
    }
}
