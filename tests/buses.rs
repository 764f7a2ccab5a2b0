//! Cars on every bus: what a recording holds is what the car had, and each bus is asked in its own way.

use std::{
    collections::{BTreeSet, VecDeque},
    future::pending,
    path::Path,
};

use pintle::{
    capture::{Kind, Reader, Writer},
    link::{Ending, LinkError, Session},
    simulator::{Mishaps, bus::Bus, car::Car},
};
use pintle_protocol::{
    Address,
    bus::hex,
    service::answer::{Answer, decode},
};

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
    let bay = Bay::with(car, Mishaps::default(), pintle::clock::Clock::simulated());
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let mut writer = Writer::create(path, &session.header(None)).unwrap();
    let began_us = bay.clock.now_us();
    let recorded = session
        .record(&mut writer, Some(LENGTH_US), pending(), |_, _| {})
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
    let spec = pintle::simulator::fleet::car("van3").unwrap();
    let trip = pintle::simulator::trip::Trip::warm(1);
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
        let clock = pintle::clock::Clock::simulated();
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
async fn a_sleeping_car_on_kline_is_told_from_a_silent_adapter() {
    let bay = Bay::simulated("van1");
    bay.endpoint.ignition_off_at(Some(0));
    let error = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap_err();
    assert!(matches!(error, LinkError::Setup(_)));
    assert!(error.to_string().contains("no controller"), "{error}");
}
