//! Dialogues with the adapter, byte for byte.

use pintle_protocol::dialogue::{Answer, Dialogue, Event};

use super::*;
use crate::simulator::{fleet, trip::Trip};

/// A conversation: what is typed, and what comes back up to the prompt.
struct Bench {
    adapter: VirtualAdapter,
    now_us: u64,
}

impl Bench {
    fn new(car: &str, trip: Trip) -> Self {
        let spec = fleet::car(car).unwrap();
        let car = Car::new(spec, &[], trip, 1).unwrap();
        Self {
            adapter: VirtualAdapter::new(car, 38_400),
            now_us: 0,
        }
    }

    fn quiet(car: &str) -> Self {
        let mut bench = Self::new(car, Trip::parked(1));
        for word in ["ATE0", "ATS0", "ATH1"] {
            bench.type_in(word);
        }
        bench
    }

    fn type_in(&mut self, text: &str) -> String {
        for byte in text.bytes().chain([b'\r']) {
            self.now_us += 260;
            self.adapter.receive(byte, self.now_us);
        }
        self.wait()
    }

    fn wait(&mut self) -> String {
        self.now_us = self.adapter.settled_us().unwrap_or(self.now_us) + 1;
        String::from_utf8(self.adapter.take_due(self.now_us)).unwrap()
    }
}

#[test]
fn a_session_opens_with_echo_banner_and_settings() {
    let mut bench = Bench::new("van3", Trip::parked(1));
    assert_eq!(bench.type_in("ATZ"), "ATZ\r\r\rGENERIC ADAPTER V1.5\r\r>");
    assert_eq!(bench.type_in("ate0"), "ate0\rOK\r\r>");
    assert_eq!(bench.type_in("AT RV"), "12.3V\r\r>");
    assert_eq!(bench.type_in("ATL1"), "OK\r\n\r\n>");
    assert_eq!(bench.type_in("ATL0"), "OK\r\r>");
    assert_eq!(bench.type_in("ATXYZ"), "?\r\r>");
    assert_eq!(bench.type_in("hello"), "?\r\r>");
    assert_eq!(bench.type_in("ATDPN"), "A0\r\r>");
    assert_eq!(bench.type_in("0151"), "SEARCHING...\r41 51 01 \r\r>");
    assert_eq!(bench.type_in("ATDPN"), "A6\r\r>");
    assert_eq!(bench.type_in(""), "A6\r\r>");
}

#[test]
fn several_controllers_answer_with_their_headers() {
    let mut bench = Bench::quiet("van3");
    bench.type_in("0100");
    let both = bench.type_in("010C");
    assert_eq!(both, "7E804410C0000\r7E904410C0000\r\r>");
    assert_eq!(bench.type_in("010C1"), "7E804410C0000\r\r>");
    assert_eq!(bench.type_in("01511"), "7E803415101\r\r>");
    assert_eq!(bench.type_in("0163"), "NO DATA\r\r>");
    assert_eq!(bench.type_in("2100"), "7E8037F2111\r\r>");
}

#[test]
fn a_long_answer_comes_in_frames_with_and_without_headers() {
    let mut bench = Bench::quiet("van3");
    bench.type_in("0100");
    // "000HRBRVAN3000003" in ASCII after 49 02 01: 20 bytes (14 hex) in three frames.
    assert_eq!(
        bench.type_in("0902"),
        "7E81014490201303030\r7E8214852425256414E\r7E82233303030303033\r\r>"
    );
    bench.type_in("ATH0");
    assert_eq!(
        bench.type_in("0902"),
        "014\r0:490201303030\r1:4852425256414E\r2:33303030303033\r\r>"
    );
    bench.type_in("ATS1");
    assert!(
        bench
            .type_in("0902")
            .starts_with("014 \r0: 49 02 01 30 30 30 \r1: 48 ")
    );
}

#[test]
fn other_buses_print_their_own_headers_and_padding() {
    let mut wagon = Bench::quiet("wagon2");
    wagon.type_in("0100");
    assert_eq!(wagon.type_in("ATDPN"), "A7\r\r>");
    assert!(
        wagon
            .type_in("01511")
            .starts_with("18DAF11003415101AAAAAAAA\r")
    );
    wagon.type_in("ATS1");
    assert!(
        wagon
            .type_in("01511")
            .starts_with("18 DA F1 10 03 41 51 01 AA AA AA AA \r")
    );
    let mut pickup = Bench::quiet("pickup1");
    pickup.type_in("0100");
    assert_eq!(pickup.type_in("ATDPN"), "A8\r\r>");
    pickup.type_in("ATSP6");
    assert_eq!(pickup.type_in("0100"), "CAN ERROR\r\r>");
}

#[test]
fn without_ignition_nothing_connects() {
    let mut bench = Bench::quiet("van7");
    bench.adapter.set_ignition(false);
    assert_eq!(
        bench.type_in("0100"),
        "SEARCHING...\rUNABLE TO CONNECT\r\r>"
    );
    bench.adapter.set_ignition(true);
    assert!(bench.type_in("0100").starts_with("SEARCHING...\r7E8064100"));
}

#[test]
fn a_byte_during_work_stops_it() {
    let mut bench = Bench::quiet("van3");
    bench.type_in("0100");
    for byte in *b"0163\r" {
        bench.now_us += 260;
        bench.adapter.receive(byte, bench.now_us);
    }
    bench.now_us += 5_000;
    bench.adapter.receive(b'\r', bench.now_us);
    assert_eq!(bench.wait(), "STOPPED\r\r>");
    assert_eq!(bench.type_in("01511"), "7E803415101\r\r>");
}

/// 38 400 baud carry 3840 bytes a second; a controller answers within 50 ms (ISO 15765-4).
#[test]
fn output_takes_its_time_on_the_line() {
    let mut bench = Bench::quiet("van3");
    bench.type_in("0100");
    let before_us = bench.now_us;
    let answer = bench.type_in("01511");
    let took_us = bench.now_us - before_us;
    let wire_us = (6 + answer.len()) as u64 * 260;
    assert!(
        (wire_us..wire_us + 50_000).contains(&took_us),
        "{took_us} {wire_us}"
    );
}

/// The program's own dialogue at the other end of the line, with the time that both have come to.
struct Talk {
    dialogue: Dialogue,
    adapter: VirtualAdapter,
    now_us: u64,
}

impl Talk {
    fn new(car: &str) -> Self {
        let mut talk = Self {
            dialogue: Dialogue::new(Default::default()),
            adapter: Bench::new(car, Trip::short(2)).adapter,
            now_us: 0,
        };
        talk.dialogue.handle_opened(0);
        talk
    }

    /// Carries bytes to and fro until the dialogue reports something.
    fn next_event(&mut self) -> Event {
        loop {
            while let Some(bytes) = self.dialogue.poll_transmit() {
                for byte in bytes {
                    self.now_us += 260;
                    self.adapter.receive(byte, self.now_us);
                }
            }
            if let Some(event) = self.dialogue.poll_event() {
                return event;
            }
            let times = [self.adapter.due_us(), self.dialogue.next_deadline()];
            self.now_us = self.now_us.max(times.into_iter().flatten().min().unwrap());
            let bytes = self.adapter.take_due(self.now_us);
            match bytes.is_empty() {
                true => self.dialogue.handle_timeout(self.now_us),
                false => self.dialogue.handle_bytes(self.now_us, &bytes),
            }
        }
    }

    fn ask(&mut self, request: &[u8], lines: Option<u8>) -> Answer {
        self.dialogue.request(self.now_us, request, lines).unwrap();
        match self.next_event() {
            Event::Answer(answer) => answer,
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn the_dialogue_connects_to_every_car_of_the_fleet_and_asks_it() {
    for spec in &fleet::FLEET {
        let mut talk = Talk::new(spec.id);
        let Event::Connected(connection) = talk.next_event() else {
            panic!("{} is not connected", spec.id);
        };
        assert_eq!(connection.adapter.name.as_deref(), Some(IDENTITY));
        let controllers = if spec.transmission_answers { 2 } else { 1 };
        assert_eq!(connection.controllers.len(), controllers, "{}", spec.id);
        talk.adapter.car.advance_to(talk.now_us);
        let answer = talk.ask(&[0x09, 0x02], None);
        assert_eq!(answer.messages[0].payload[3..], *spec.vin.as_bytes());
        let misfires = talk.ask(&[0x06, 0xA2], None);
        assert_eq!(misfires.messages[0].payload.len(), 19);
        let request = [0x01, 0x06, 0x07, 0x0C, 0x04, 0x05, 0x11];
        let first = talk.ask(&request, None);
        let lines = Some(first.lines as u8);
        let before_us = talk.now_us;
        for _ in 0..20 {
            assert_eq!(talk.ask(&request, lines).lines, first.lines);
        }
        let each_us = (talk.now_us - before_us) / 20;
        assert!(each_us < 60_000, "{}: {each_us}", spec.id);
    }
}
