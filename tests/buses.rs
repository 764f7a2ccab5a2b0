//! Cars on every bus: what a recording holds is what the car had, and each bus is asked in its own way.

use std::{
    collections::{BTreeSet, VecDeque},
    future::pending,
    path::Path,
};

use pintle::{
    capture::{Kind, Reader, Writer},
    clock::Clock,
    link::{Ending, LinkError, Session},
    simulator::{adapter::Mishaps, bus::Bus, car::Car},
};
use pintle_protocol::{
    Address,
    bus::hex,
    service::answer::{Answer, decode},
};

use serde_json::Value;

use crate::{
    bay::{Bay, device, parked},
    harness::Workbench,
};

/// How long each car is recorded, simulated µs.
const LENGTH_US: u64 = 20_000_000;
/// Longest time from a value in the car to its row, µs: an answer with the adapter's longest patience behind it.
const WINDOW_US: u64 = 700_000;
/// Time from one state of the car to the next, µs.
const STEP_US: u64 = 20_000;

/// An answer as it was recorded.
struct Recorded {
    t_us: u64,
    ecu: Address,
    request: Vec<u8>,
    response: Vec<u8>,
}

/// Records a car on a bus; gives the answers.
async fn record(car: Car, path: &Path) -> Vec<Recorded> {
    record_by(Clock::simulated(), car, path).await
}

async fn record_by(clock: Clock, car: Car, path: &Path) -> Vec<Recorded> {
    let bay = Bay::with(car, Mishaps::default(), clock);
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let mut writer = Writer::create(path, &session.header(None)).unwrap();
    let began_us = bay.clock.now_us();
    let recorded = session
        .record(Some(&mut writer), Some(LENGTH_US), pending, |_, _| {})
        .await
        .unwrap();
    writer.finish().unwrap();
    assert_eq!(recorded.ending, Ending::TimeOver);
    let mut reader = Reader::open(path).unwrap();
    let mut answers = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        assert_ne!(row.kind, Kind::Link, "{}", row.response);
        if row.kind == Kind::Data {
            answers.push(Recorded {
                t_us: began_us + row.t_us,
                ecu: row.ecu.parse().unwrap(),
                request: hex::decode(row.request).unwrap(),
                response: hex::decode(row.response).unwrap(),
            });
        }
    }
    answers
}

/// What a car on CAN with the same engine would have said to the same request, moment by moment.
struct Twin {
    car: Car,
    now_us: u64,
    moments: VecDeque<(u64, Car)>,
}

impl Twin {
    fn new(car: Car) -> Self {
        Self {
            car,
            now_us: 0,
            moments: VecDeque::new(),
        }
    }

    /// Whether some moment shortly before the row had exactly these bytes.
    fn said(&mut self, row: &Recorded, from: Address) -> bool {
        while self.now_us < row.t_us {
            self.now_us += STEP_US;
            self.car.advance_to(self.now_us);
            self.moments.push_back((self.now_us, self.car.clone()));
        }
        while self
            .moments
            .front()
            .is_some_and(|(at_us, _)| at_us + WINDOW_US < row.t_us)
        {
            self.moments.pop_front();
        }
        self.moments.iter_mut().any(|(_, car)| {
            let mut answers = car.answer(&row.request).into_iter();
            answers.any(|answer| answer.address == from && answer.payload == row.response)
        })
    }
}

/// The engine's or the transmission's address on another bus.
fn same_controller(address: Address, here: Bus, there: Bus) -> Address {
    let (here, there) = (here.addresses(), there.addresses());
    assert!([here.0, here.1].contains(&address), "{address}");
    if address == here.0 { there.0 } else { there.1 }
}

#[tokio::test]
async fn on_every_bus_a_recording_holds_what_the_car_had() {
    for bus in Bus::ALL {
        let bench = Workbench::new();
        let path = bench.path().join("a.capture.csv");
        let rows = record(parked("wagon2").on_bus(bus), &path).await;
        let mut twin = Twin::new(parked("wagon2").on_bus(Bus::Can11At500));
        let mut asked = BTreeSet::new();
        for row in &rows {
            // lists of codes have another form before CAN; this car has none
            if !bus.is_can() && matches!(row.request[0], 0x03 | 0x07) {
                assert_eq!(row.response[1..], [0; 6], "{bus:?}");
                continue;
            }
            let from = same_controller(row.ecu, bus, Bus::Can11At500);
            assert!(
                twin.said(row, from),
                "{bus:?} {} {:02X?} {:02X?}",
                row.ecu,
                row.request,
                row.response
            );
            asked.insert(row.request.clone());
        }
        assert!(asked.contains(&[0x09, 0x02][..]), "{bus:?}");
        let transmission = rows.iter().filter(|row| row.ecu == bus.addresses().1);
        assert!(transmission.count() > 10, "{bus:?}");
        let monitors = asked.iter().any(|request| request[0] == 0x06);
        assert_eq!(monitors, bus.is_can(), "{bus:?}");
        if !bus.is_can() {
            // one parameter a request
            assert!(asked.iter().all(|request| request.len() <= 3));
            for wanted in [0x06, 0x08, 0x0C, 0x04, 0x05] {
                assert!(asked.contains(&[0x01, wanted][..]), "{bus:?} {wanted:02X}");
            }
        }
    }
}

#[tokio::test]
async fn on_every_bus_codes_and_their_freeze_frame_are_read() {
    // an injector that no longer opens leaves its code, misfires and a lean mixture
    let fault = "injector_dead:3".parse().unwrap();
    let spec = pintle::simulator::car::fleet::car("van3").unwrap();
    let trip = pintle::simulator::car::trip::Trip::warm(1);
    let mut broken = Car::new(spec, &[fault], trip, 1).unwrap();
    broken.advance_to(600_000_000);
    let can = Bus::Can11At500;
    let mut twin = broken.clone().on_bus(can);
    let mut said = |request: &[u8]| {
        let answers = twin.answer(request);
        let mut own = answers
            .iter()
            .filter(|answer| answer.address == can.addresses().0);
        own.next().map(|answer| answer.payload.clone())
    };
    let listed = |request: &[u8], payload: &[u8]| match decode(request, payload).unwrap() {
        Answer::Codes { codes, .. } => codes
            .iter()
            .map(|reported| reported.code)
            .collect::<BTreeSet<_>>(),
        other => panic!("{other:?}"),
    };
    let stored = listed(&[0x03], &said(&[0x03]).unwrap());
    assert!(stored.len() >= 3);
    for bus in Bus::ALL {
        let clock = Clock::simulated();
        let bay = Bay::with(broken.clone().on_bus(bus), Mishaps::default(), clock);
        let mut session = Session::connect(device(bay.path()), bay.clock.clone())
            .await
            .unwrap();
        let codes = session.codes().await.unwrap();
        let found: BTreeSet<_> = codes
            .stored
            .unwrap()
            .iter()
            .map(|found| found.code)
            .collect();
        assert_eq!(found, stored, "{bus:?}");
        assert!(codes.status.unwrap().is_lamp_on());
        // permanent codes came after these buses
        assert_eq!(codes.permanent.is_some(), bus.is_can(), "{bus:?}");
        let frame = codes.freeze_frame.unwrap();
        assert!(frame.values.len() > 10, "{bus:?}: {}", frame.values.len());
        for (pid, data) in frame.values {
            let payload = said(&[0x02, pid.0, 0x00]).unwrap();
            assert_eq!(payload[3..], data, "{bus:?} {pid}");
        }
    }
}

#[tokio::test]
async fn an_old_car_is_connected_to_by_the_bus_that_it_was_made_with() {
    for (car, protocol, engine) in [("van1", "iso9141-2", "10"), ("pickup4", "j1850-vpw", "10")] {
        let bay = Bay::simulated(car);
        let session = Session::connect(device(bay.path()), bay.clock.clone())
            .await
            .unwrap();
        let header = session.header(None).link.unwrap();
        assert_eq!(header.protocol.as_deref(), Some(protocol));
        assert_eq!(header.engine_controller.as_deref(), Some(engine));
    }
}

#[tokio::test]
async fn a_sleeping_car_on_kline_is_distinguished_from_a_silent_adapter() {
    let bay = Bay::simulated("van1");
    bay.endpoint.ignition_off_at(Some(0));
    let error = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap_err();
    assert!(matches!(error, LinkError::Setup(_)));
    assert!(error.to_string().contains("no controller"), "{error}");
}

/// A car whose misfires were bad enough for a code, ten minutes on the road.
fn misfiring(car: &str) -> Car {
    let fault = "ignition_weak:2:20".parse().unwrap();
    let spec = pintle::simulator::car::fleet::car(car).unwrap();
    let trip = pintle::simulator::car::trip::Trip::warm(1);
    let mut car = Car::new(spec, &[fault], trip, 1).unwrap();
    car.advance_to(TEN_MINUTES_US);
    car
}

const TEN_MINUTES_US: u64 = 600_000_000;

#[tokio::test]
async fn without_counters_codes_and_their_freeze_frame_tell_the_misfires() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let mut car = misfiring("van1");
    let frozen = |car: &mut Car, pid| car.answer(&[0x02, pid, 0x00])[0].payload[3..].to_vec();
    assert_eq!(frozen(&mut car, 0x02), [0x03, 0x02]);
    // SAE J1979: quarter revolutions in two bytes; degrees above -40
    let speed = frozen(&mut car, 0x0C);
    let engine_rpm = f64::from(u16::from_be_bytes([speed[0], speed[1]])) / 4.0;
    let coolant_c = f64::from(frozen(&mut car, 0x05)[0]) - 40.0;
    let clock = Clock::simulated();
    clock.advance_to(TEN_MINUTES_US);
    record_by(clock, car, &path).await;
    let output = bench
        .pintle(["diagnose", "a.capture.csv", "--json"])
        .assert()
        .success();
    let found: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    let misfires = &found["misfires"];
    assert_eq!(misfires["source"], "codes");
    assert_eq!(misfires["cylinders"][0]["cylinder"], 2);
    assert_eq!(misfires["freeze_frame"]["code"], "P0302");
    assert_eq!(misfires["freeze_frame"]["engine_rpm"], engine_rpm);
    assert_eq!(misfires["freeze_frame"]["coolant_c"], coolant_c);
    let on_two = |cause: &&Value| cause["cylinder"] == 2;
    let causes = found["causes"].as_array().unwrap();
    let chance: f64 = causes
        .iter()
        .filter(on_two)
        .filter_map(|cause| cause["probability"].as_f64())
        .sum();
    assert!(chance > 0.5, "{found}");
    let output = bench
        .pintle(["diagnose", "a.capture.csv"])
        .assert()
        .success();
    let text = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    assert!(
        text.contains("codes name these misfiring cylinders: 2"),
        "{text}"
    );
    assert!(text.contains("P0302 was stored at"), "{text}");
}

/// The maker's content of service 06 before CAN carries no count that may be believed, though its numbers may look
/// like those of the counters on CAN.
#[tokio::test]
async fn before_can_test_results_are_shown_raw_and_never_counted() {
    let mut car = misfiring("pickup4");
    let said = car.answer(&[0x06, 0xA3])[0].payload.clone();
    assert_eq!(said[..2], [0x46, 0xA3]);
    assert_eq!(
        decode(&[0x06, 0xA3], &said),
        Ok(Answer::Unknown(said.clone()))
    );
    let bench = Workbench::new();
    let bay = Bay::with(car, Mishaps::default(), Clock::simulated());
    let output = bench
        .pintle(["probe", "--port", bay.path(), "--json"])
        .assert()
        .success();
    let probe: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    assert_eq!(probe["misfire_source"], "codes");
    let tests = probe["maker_tests"].as_array().unwrap();
    let raw = tests.iter().find(|raw| raw["test"] == "A3").unwrap();
    assert_eq!(raw["messages"][0], hex::encode(&said[2..]));
    // six cylinders, catalyst, oxygen sensor
    assert_eq!(tests.len(), 8);
    // put into a capture by hand, they give no number
    let row = format!(
        "# capture 1\n# {{}}\nt_us,kind,ecu,request,response\n0,data,10,06A3,{}\n",
        hex::encode(&said)
    );
    bench.file("a.capture.csv", &row);
    let output = bench.pintle(["export", "a.capture.csv"]).assert().success();
    let rows = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    // the bytes, but no name, value or unit
    let raw = format!("0,10,06A3,,,,{}", hex::encode(&said));
    assert_eq!(rows.lines().skip(1).collect::<Vec<_>>(), [raw]);
}

#[tokio::test]
async fn a_controller_that_asks_to_wait_is_recorded_all_the_same() {
    for bus in [Bus::Can11At500, Bus::Iso14230Fast] {
        for (times, each_us) in [(2, 15_000), (1, 300_000)] {
            let bench = Workbench::new();
            let path = bench.path().join("a.capture.csv");
            let car = parked("van7").on_bus(bus).with_waits(times, each_us);
            let rows = record(car, &path).await;
            let mut twin = Twin::new(parked("van7"));
            assert!(rows.len() > 25, "{bus:?}: {}", rows.len());
            for row in rows.iter().filter(|row| row.request[0] == 0x01) {
                let from = same_controller(row.ecu, bus, Bus::Can11At500);
                assert!(twin.said(row, from), "{bus:?} {:02X?}", row.response);
            }
        }
    }
}
