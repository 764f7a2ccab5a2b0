//! Whole conversations with an adapter, written by hand from the standards, driven without port and clock.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::collections::VecDeque;

use pintle_protocol::dialogue::{Dialogue, Event, Settings};

/// An adapter that is told beforehand what it hears and what it says: one entry a turn.
struct Script {
    dialogue: Dialogue,
    turns: VecDeque<(&'static str, &'static str)>,
    now_us: u64,
}

/// Stands in a script for an adapter that says nothing.
const SILENCE: &str = "";

impl Script {
    fn open(turns: &[(&'static str, &'static str)]) -> Self {
        let mut script = Self {
            dialogue: Dialogue::new(Settings::default()),
            turns: turns.iter().copied().collect(),
            now_us: 0,
        };
        script.dialogue.handle_opened(0);
        script
    }

    fn then(&mut self, turns: &[(&'static str, &'static str)]) -> &mut Self {
        self.turns.extend(turns);
        self
    }

    /// Plays the script to its end; 10 ms a turn, silence lasts until the deadline. Gives the events.
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
                self.dialogue.handle_bytes(self.now_us, answer.as_bytes());
            }
        }
        assert_eq!(self.turns, [], "the script was played to its end");
        events
    }
}

/// Set-up of an adapter that does as it is told, up to the search.
const SETUP: [(&str, &str); 9] = [
    ("ATZ", "ATZ\r\r\rSERIAL ADAPTER v1.5\r\r>"),
    ("ATE0", "ATE0\rOK\r\r>"),
    ("ATL0", "OK\r\r>"),
    ("ATS0", "OK\r\r>"),
    ("ATH1", "OK\r\r>"),
    ("ATAT1", "OK\r\r>"),
    ("ATI", "SERIAL ADAPTER v1.5\r\r>"),
    ("ATRV", "12.6V\r\r>"),
    ("ATSP0", "OK\r\r>"),
];

/// Search and discovery of a CAN car with engine and transmission controller.
const CAN_CAR: [(&str, &str); 7] = [
    (
        "0100",
        "SEARCHING...\r7E8064100BE3FA81300\r7E906410098188001AA\r\r>",
    ),
    ("ATDPN", "A6\r\r>"),
    ("0100", "7E9064100981880010A\r7E8064100BE3FA81300\r\r>"),
    ("0120", "7E80641208005B01100\r7E906412080000000AA\r\r>"),
    ("0140", "7E8064140FED0000000\r\r>"),
    ("0600", "7E8064600C000000100\r\r>"),
    ("0620", "NO DATA\r\r>"),
];

const INFO: [(&str, &str); 1] = [("0900", "7E80649005440000000\r\r>")];

fn connected_can() -> Script {
    let mut script = Script::open(&SETUP);
    script.then(&CAN_CAR).then(&INFO);
    let events = script.play();
    assert!(
        matches!(events.as_slice(), [Event::Connected(_)]),
        "{events:?}"
    );
    script
}

#[test]
fn an_adapter_on_a_can_car_is_set_up_and_asked() {
    let mut script = Script::open(&SETUP);
    script.then(&CAN_CAR).then(&INFO);
    let events = script.play();
    let [Event::Connected(connection)] = events.as_slice() else {
        panic!("{events:?}");
    };
    assert_eq!(connection.protocol.id(), "iso15765-11-500");
    assert_eq!(connection.voltage, Some(12.6));
    assert_eq!(
        connection.adapter.name.as_deref(),
        Some("SERIAL ADAPTER v1.5")
    );
    assert_eq!(connection.adapter.refused, [""; 0]);
    let engine = connection.engine().unwrap();
    assert_eq!(engine.address.unwrap().to_string(), "7E8");
    assert!(engine.parameters.contains(0x06) && engine.parameters.contains(0x0C));
    assert!(engine.monitors.contains(0x01));
    assert!(engine.information.contains(0x02));
    assert_eq!(connection.controllers.len(), 2);

    script
        .dialogue
        .request(script.now_us, &[0x01, 0x0C, 0x06], Some(1))
        .unwrap();
    script.then(&[("010C061", "7E806410C0BB8067F00\r\r>")]);
    let asked_at = script.now_us;
    let events = script.play();
    let [Event::Answer(answer)] = events.as_slice() else {
        panic!("{events:?}");
    };
    assert_eq!(
        answer.messages[0].payload,
        [0x41, 0x0C, 0x0B, 0xB8, 0x06, 0x7F]
    );
    assert_eq!(answer.lines, 1);
    assert_eq!(answer.asked_at_us, asked_at);
    assert_eq!(answer.answered_at_us, asked_at + 10_000);
    assert!(script.dialogue.is_ready());
}

#[test]
fn a_second_request_has_to_wait() {
    let mut script = connected_can();
    let now = script.now_us;
    script.dialogue.request(now, &[0x01, 0x0C], None).unwrap();
    assert!(script.dialogue.request(now, &[0x01, 0x0D], None).is_err());
}
