//! What reaches the car's bus: requests to read, and one request to clear when somebody wants it.

use std::future::pending;

use pintle::{
    capture::Writer,
    clock::Clock,
    link::{Cleared, Device, Session},
    simulator::{
        adapter::{Purpose, VirtualAdapter},
        bus::Bus,
        car::{
            Car, fleet,
            trip::{Driving, Stretch, Trip},
        },
    },
};

use crate::{
    harness::Workbench,
    plugged_in::{PluggedIn, READING},
};

/// The service that clears (SAE J1979).
const CLEARING: u8 = 0x04;

/// A car of the fleet with a dead injector, driven until it has stored codes; after that it is parked with the key on,
/// or goes on idling.
fn driven(id: &str, parked: bool) -> Car {
    let stretch = |driving, seconds| Stretch { driving, seconds };
    let mut trip = Trip {
        stretches: vec![stretch(Driving::Idle, 300.0)],
        ..Trip::warm(1)
    };
    if parked {
        trip.stretches.push(stretch(Driving::Parked, 3600.0));
    }
    let fault = "injector_dead:3".parse().unwrap();
    Car::new(fleet::car(id).unwrap(), &[fault], trip, 1).unwrap()
}

/// Such a van 3 on this bus.
fn plugged_in(bus: Bus, parked: bool, clock: &Clock) -> PluggedIn {
    plug_in(driven("van3", parked).on_bus(bus), clock)
}

fn plug_in(mut car: Car, clock: &Clock) -> PluggedIn {
    car.advance_to(310_000_000);
    PluggedIn::network(VirtualAdapter::new(car, 115_200), clock.clone())
}

async fn connect(endpoint: &PluggedIn, clock: &Clock) -> Session {
    let device = Device::Network(endpoint.address().to_owned());
    Session::connect(device, clock.clone()).await.unwrap()
}

#[tokio::test]
async fn taking_stock_and_recording_only_read_on_every_bus() {
    let bench = Workbench::new();
    for (number, bus) in Bus::ALL.into_iter().enumerate() {
        let clock = Clock::simulated();
        let endpoint = plugged_in(bus, false, &clock);
        let mut session = connect(&endpoint, &clock).await;
        session.codes().await.unwrap();
        session.probe().await.unwrap();
        let path = bench.path().join(format!("{number}.capture.csv"));
        let mut writer = Writer::create(&path, &session.header(None)).unwrap();
        let recorded = session.record(Some(&mut writer), Some(70_000_000), pending, |_, _| {});
        assert!(recorded.await.unwrap().answers > 200, "{bus:?}");
        endpoint.assert_only_reading();
        // a silent car and the way back
        endpoint.ignition_off_at(Some(0));
        let recorded = session.record(Some(&mut writer), Some(20_000_000), pending, |_, _| {});
        recorded.await.unwrap();
        endpoint.assert_only_reading();
    }
}

/// A newer car is searched for by service 01; then everything is read by services 22 and 19 (ISO 14229-1).
#[tokio::test]
async fn a_newer_car_is_only_read_too() {
    let bench = Workbench::new();
    let clock = Clock::simulated();
    let endpoint = plug_in(driven("van8", false), &clock);
    let mut session = connect(&endpoint, &clock).await;
    session.codes().await.unwrap();
    session.probe().await.unwrap();
    let path = bench.path().join("newer.capture.csv");
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let recorded = session.record(Some(&mut writer), Some(70_000_000), pending, |_, _| {});
    assert!(recorded.await.unwrap().answers > 200);
    endpoint.assert_only_reading();
    let mut services = endpoint.services();
    services.retain(|service| *service != 0x01);
    assert!(
        services
            .iter()
            .all(|service| [0x22, 0x19].contains(service))
    );
    // what was noted down with a code
    let snapshots = |sent: &pintle::simulator::adapter::Sent| sent.data.starts_with(&[0x19, 0x04]);
    assert!(endpoint.log.messages().iter().any(snapshots));
}

#[tokio::test]
async fn clearing_sends_one_request_more_than_reading_on_every_bus() {
    let bench = Workbench::new();
    for (number, bus) in Bus::ALL.into_iter().enumerate() {
        let clock = Clock::simulated();
        let endpoint = plugged_in(bus, true, &clock).may_clear();
        let mut session = connect(&endpoint, &clock).await;
        let before = session.read_before_clearing().await.unwrap();
        let stored = before.codes().stored.as_ref().unwrap();
        assert!(!stored.is_empty(), "{bus:?}");
        endpoint.assert_only_reading();
        let path = bench.path().join(format!("{number}.capture.csv"));
        let saved = before.save(&path).unwrap();
        endpoint.assert_only_reading();
        let cleared = session.clear_codes(saved).await.unwrap();
        let (engine, transmission) = bus.addresses();
        let expected = Cleared {
            accepted: vec![Some(engine), Some(transmission)],
            refused: Vec::new(),
            silent: Vec::new(),
            no_answer: None,
        };
        assert_eq!(cleared, expected, "{bus:?}");
        let after = session.codes().await.unwrap();
        assert_eq!(after.stored.unwrap_or_default(), [], "{bus:?}");
        let mut services = endpoint.services();
        services.retain(|service| !READING.contains(service));
        assert_eq!(services, [CLEARING], "{bus:?}");
    }
}

/// A newer car clears by service 14 for the emissions group (ISO 14229-1; SAE J1979-2, from memory).
#[tokio::test]
async fn a_newer_car_is_cleared_by_its_own_service_once() {
    let bench = Workbench::new();
    let clock = Clock::simulated();
    let endpoint = plug_in(driven("van8", true), &clock).may_clear();
    let mut session = connect(&endpoint, &clock).await;
    let before = session.read_before_clearing().await.unwrap();
    assert!(!before.codes().stored.as_ref().unwrap().is_empty());
    endpoint.assert_only_reading();
    let saved = before
        .save(&bench.path().join("before.capture.csv"))
        .unwrap();
    let cleared = session.clear_codes(saved).await.unwrap();
    assert!(
        !cleared.accepted.is_empty() && cleared.no_answer.is_none(),
        "{cleared:?}"
    );
    let after = session.codes().await.unwrap();
    assert_eq!(after.stored.unwrap_or_default(), []);
    let sent = endpoint.log.messages();
    let clearing = sent
        .iter()
        .filter(|sent| sent.purpose == Purpose::Request && !READING.contains(&sent.data[0]));
    let clearing: Vec<&[u8]> = clearing.map(|sent| &sent.data[..4]).collect();
    assert_eq!(clearing, [[0x14, 0xFF, 0xFF, 0x33]]);
}

#[test]
fn a_running_engine_is_never_asked_to_clear() {
    let bench = Workbench::new();
    let endpoint = plugged_in(Bus::Can11At500, false, &Clock::simulated());
    let arguments = ["codes", "--clear", "--yes", "--tcp", endpoint.address()];
    bench.pintle(arguments).assert().code(1);
    endpoint.assert_only_reading();
}

#[test]
fn every_command_at_the_car_only_reads() {
    let run = |command: &[&str]| {
        let bench = Workbench::new();
        let endpoint = plugged_in(Bus::Can11At500, true, &Clock::simulated());
        let tcp = ["--tcp", endpoint.address()];
        let arguments = [command, &tcp].concat();
        bench.pintle(arguments).assert().success();
        endpoint.assert_only_reading();
    };
    std::thread::scope(|scope| {
        for command in [&["probe"][..], &["codes"], &["record", "--for", "2s"]] {
            scope.spawn(move || run(command));
        }
    });
}
