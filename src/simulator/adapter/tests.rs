//! Dialogues with the adapter, byte for byte.

use pintle_protocol::{
    dialogue::{Answer, Dialogue, Event},
    service::{Request, Services},
};

use super::*;
use crate::simulator::{
    bus::Bus,
    car::{Car, fleet, trip::Trip},
};

/// A conversation: what is typed, and what comes back up to the prompt.
struct Bench {
    adapter: VirtualAdapter,
    now_us: u64,
}

impl Bench {
    fn new(car: &str, trip: Trip) -> Self {
        let spec = fleet::car(car).unwrap();
        Self::with(Car::new(spec, &[], trip, 1).unwrap())
    }

    fn with(car: Car) -> Self {
        Self {
            adapter: VirtualAdapter::new(car, 38_400),
            now_us: 0,
        }
    }

    fn quiet(car: &str) -> Self {
        Self::new(car, Trip::parked(1)).hushed()
    }

    fn on_bus(car: &str, bus: Bus) -> Self {
        let car = Car::new(fleet::car(car).unwrap(), &[], Trip::parked(1), 1).unwrap();
        Self::with(car.on_bus(bus)).hushed()
    }

    fn hushed(self) -> Self {
        let mut bench = self;
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
    assert_eq!(bench.type_in("ATZ"), "ATZ\r\r\rHARBOUR ADAPTER V3.2\r\r>");
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

// Headers and check bytes by hand: 48+6B+10+41+51+01 = 156; 83+F1+10+41+51+01 = 217.
#[test]
fn buses_before_can_print_their_own_headers_and_checksums() {
    let mut iso = Bench::on_bus("van7", Bus::Iso9141);
    iso.type_in("0100");
    assert_eq!(iso.type_in("ATDPN"), "A3\r\r>");
    assert_eq!(iso.type_in("0151"), "486B1041510156\r\r>");
    assert_eq!(iso.type_in("01510C"), "NO DATA\r\r>");
    // five counted messages, "000HRBRVAN7000007" behind three bytes of filling
    let number = iso.type_in("0902");
    assert!(number.starts_with("486B1049020100000030"), "{number}");
    assert_eq!(number.matches("486B104902").count(), 5);
    iso.type_in("ATH0");
    iso.type_in("ATS1");
    assert_eq!(iso.type_in("01511"), "41 51 01 \r\r>");
    assert_eq!(iso.type_in("03"), "43 00 00 00 00 00 00 \r\r>");

    let mut kwp = Bench::on_bus("van3", Bus::Iso14230Fast);
    kwp.type_in("0100");
    assert_eq!(kwp.type_in("ATDPN"), "A5\r\r>");
    assert_eq!(kwp.type_in("01511"), "83F11041510117\r\r>");
    // the sum of the engine's 84+F1+10+41+0C is 1D2
    let both = kwp.type_in("010C");
    for line in ["84F110410C0000D2\r", "84F118410C0000DA\r"] {
        assert!(both.contains(line), "{both}");
    }
    kwp.type_in("ATSH8118F1");
    assert_eq!(kwp.type_in("0151"), "NO DATA\r\r>");
    // 84+F1+18+41+0C = 1DA
    assert_eq!(kwp.type_in("010C"), "84F118410C0000DA\r\r>");

    let mut vpw = Bench::on_bus("van7", Bus::J1850Vpw);
    vpw.type_in("0100");
    assert_eq!(vpw.type_in("ATDP"), "AUTO, SAE J1850 VPW\r\r>");
    assert!(vpw.type_in("01511").starts_with("486B10415101"));
    let mut pwm = Bench::on_bus("van7", Bus::J1850Pwm);
    pwm.type_in("0100");
    let line = pwm.type_in("01511");
    assert!(
        line.starts_with("416B10415101") && line.ends_with("F1\r\r>"),
        "{line}"
    );
}

#[test]
fn sleeping_buses_are_woken_once_and_kept_awake() {
    for (bus, number, words) in [
        (Bus::Iso9141, 3, "BUS INIT: ...OK\r"),
        (Bus::Iso14230Slow, 4, "BUS INIT: ...OK\r"),
        (Bus::Iso14230Fast, 5, "BUS INIT: OK\r"),
    ] {
        let mut bench = Bench::on_bus("van7", bus);
        bench.type_in(&format!("ATSP{number}"));
        let before_us = bench.now_us;
        assert!(bench.type_in("0151").starts_with(words), "{bus:?}");
        // an address byte at 5 baud takes two seconds
        let slow = bench.now_us - before_us > 2_000_000;
        assert_eq!(slow, bus != Bus::Iso14230Fast);
        assert!(!bench.type_in("0151").contains("BUS"));
        bench.now_us += 60_000_000;
        assert!(!bench.type_in("0151").contains("BUS"));
        bench.adapter.set_ignition(false);
        let answer = bench.type_in("0151");
        assert_eq!(answer, words.replace("OK", "ERROR") + "\r>");
        bench.adapter.set_ignition(true);
        assert!(bench.type_in("0151").starts_with(words));
    }
}

#[test]
fn the_wrong_bus_does_not_answer() {
    let mut bench = Bench::on_bus("van7", Bus::Iso9141);
    for (number, words) in [
        (1, "NO DATA\r\r>"),
        (4, "BUS INIT: ...ERROR\r\r>"),
        (5, "BUS INIT: ERROR\r\r>"),
        (7, "CAN ERROR\r\r>"),
    ] {
        bench.type_in(&format!("ATSP{number}"));
        assert_eq!(bench.type_in("0100"), words);
    }
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
    fn new(car: Car) -> Self {
        let mut talk = Self {
            dialogue: Dialogue::new(Default::default()),
            adapter: Bench::with(car).adapter,
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
            if bytes.is_empty() {
                self.dialogue.handle_timeout(self.now_us)
            } else {
                self.dialogue.handle_bytes(self.now_us, &bytes)
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

    /// What a request takes on the average when the number of answer lines is known.
    fn each_us(&mut self, request: &[u8]) -> u64 {
        let lines = self.ask(request, None).lines;
        let before_us = self.now_us;
        for _ in 0..20 {
            assert_eq!(self.ask(request, Some(lines as u8)).lines, lines);
        }
        (self.now_us - before_us) / 20
    }
}

#[test]
fn the_dialogue_connects_to_every_car_of_the_fleet_on_every_bus() {
    for spec in &fleet::FLEET {
        for bus in Bus::ALL {
            let car = Car::new(spec, &[], Trip::short(2), 1).unwrap();
            let mut talk = Talk::new(car.on_bus(bus));
            let Event::Connected(connection) = talk.next_event() else {
                panic!("{} is not connected on {bus:?}", spec.id);
            };
            let is_newer = connection.services == Services::Iso14229;
            assert_eq!(is_newer, spec.id == "van8" && bus.is_can());
            assert_eq!(
                connection.adapter.name.as_deref(),
                Some("HARBOUR ADAPTER V3.2")
            );
            assert_eq!(connection.protocol.is_can(), bus.is_can());
            let controllers = if spec.transmission_answers { 2 } else { 1 };
            assert_eq!(connection.controllers.len(), controllers, "{bus:?}");
            let engine = connection.engine().unwrap();
            assert_eq!(engine.address, Some(bus.addresses().0));
            let last = if spec.bus.is_can() { 0x4E } else { 0x1C };
            assert!(engine.parameters.contains(last), "{bus:?}");
            assert!(engine.information.contains(0x0A), "{bus:?}");
            let request = Request::Information(0x02).bytes(connection.services);
            let answer = talk.ask(&request.unwrap(), None);
            assert!(answer.messages[0].payload.ends_with(spec.vin.as_bytes()));
        }
    }
}

#[test]
fn can_cars_tell_their_misfires_and_answer_six_parameters_quickly() {
    for spec in fleet::FLEET.iter().filter(|spec| spec.bus.is_can()) {
        let car = Car::new(spec, &[], Trip::short(2), 1).unwrap();
        let mut talk = Talk::new(car.answering(Services::SaeJ1979));
        assert!(matches!(talk.next_event(), Event::Connected(_)));
        talk.adapter.car.advance_to(talk.now_us);
        let misfires = talk.ask(&[0x06, 0xA2], None);
        assert_eq!(misfires.messages[0].payload.len(), 19);
        let request = [0x01, 0x06, 0x07, 0x0C, 0x04, 0x05, 0x11];
        let each_us = talk.each_us(&request);
        assert!(each_us < 60_000, "{}: {each_us}", spec.id);
    }
}

/// ISO 9141-2 and ISO 14230-4: request 31 ms, answer after 25 to 50 ms, its eight bytes, then 55 ms of silence: six to
/// eight requests a second. J1850 answers within 100 ms and needs no silence (SAE J1979).
#[test]
fn older_buses_take_their_time() {
    for (bus, fastest_us, slowest_us) in [
        (Bus::Iso9141, 120_000, 170_000),
        (Bus::Iso14230Slow, 120_000, 170_000),
        (Bus::Iso14230Fast, 120_000, 170_000),
        (Bus::J1850Vpw, 20_000, 60_000),
        (Bus::J1850Pwm, 15_000, 50_000),
    ] {
        let car = Car::new(fleet::car("van7").unwrap(), &[], Trip::short(2), 1).unwrap();
        let mut talk = Talk::new(car.on_bus(bus));
        assert!(matches!(talk.next_event(), Event::Connected(_)));
        let each_us = talk.each_us(&[0x01, 0x0C]);
        assert!(
            (fastest_us..slowest_us).contains(&each_us),
            "{bus:?}: {each_us}"
        );
    }
}

/// Short waits are heard out in one reply, after long ones the dialogue asks again.
#[test]
fn a_controller_that_asks_to_wait_is_waited_for() {
    for bus in [
        Bus::Can11At500,
        Bus::Can29At250,
        Bus::Iso14230Slow,
        Bus::Iso14230Fast,
    ] {
        for (times, each_us) in [(3, 15_000), (1, 600_000), (4, 700_000)] {
            let car = Car::new(fleet::car("van7").unwrap(), &[], Trip::parked(2), 1).unwrap();
            let mut talk = Talk::new(car.on_bus(bus).with_waits(times, each_us));
            assert!(matches!(talk.next_event(), Event::Connected(_)), "{bus:?}");
            // the answer lines of a time at which there was no wait
            for lines in [None, Some(1)] {
                talk.now_us += 10_000_000;
                let asked_us = talk.now_us;
                let answer = talk.ask(&[0x01, 0x51], lines);
                assert_eq!(answer.messages[0].payload, [0x41, 0x51, 0x01], "{bus:?}");
                assert!(answer.refusals.is_empty());
                let took_us = talk.now_us - asked_us;
                assert!(took_us >= u64::from(times) * each_us, "{took_us}");
            }
        }
    }
}
