//! A car that answers by ISO 14229 services (SAE J1979-2) beside the same car with services of SAE J1979: the same
//! items, the same judgement.

use std::{
    collections::{BTreeMap, BTreeSet},
    future::pending,
    path::Path,
};

use pintle::{
    capture::{Contents, Kind, Reader, Writer},
    clock::Clock,
    link::Session,
    simulator::{
        adapter::Mishaps,
        car::{Car, fleet, trip::Trip},
    },
};
use pintle_protocol::{Item, Pid, dtc::TroubleCode, service::Services};
use serde_json::Value;

use crate::{
    bay::{Bay, device},
    harness::Workbench,
};

/// Van 8 with this fault and these services.
fn van8(fault: &str, trip: Trip, services: Services) -> Car {
    let fault = fault.parse().unwrap();
    let car = Car::new(fleet::car("van8").unwrap(), &[fault], trip, 1);
    car.unwrap().answering(services)
}

/// Records a whole trip of the car.
async fn record(car: Car, path: &Path) {
    let length_us = car.trip().duration_us();
    let vehicle = car.spec().vehicle();
    let bay = Bay::with(car, Mishaps::default(), Clock::simulated());
    let device = device(bay.path());
    let mut session = Session::connect(device, bay.clock.clone()).await.unwrap();
    let mut writer = Writer::create(path, &session.header(Some(vehicle))).unwrap();
    let recorded = session.record(Some(&mut writer), Some(length_us), pending, |_, _| {});
    recorded.await.unwrap();
    writer.finish().unwrap();
}

/// Lowest and highest value, and number of readings, of each item of the engine controller.
fn items(contents: &Contents) -> BTreeMap<Item, (f64, f64, u64)> {
    let items = contents.items.iter();
    let of_engine = items.filter(|((ecu, _), _)| ecu == "7E8");
    of_engine
        .map(|((_, item), tally)| (*item, (tally.low, tally.high, tally.readings)))
        .collect()
}

fn services_asked(path: &Path) -> Vec<String> {
    let mut reader = Reader::open(path).unwrap();
    let mut services = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        if matches!(row.kind, Kind::Data | Kind::None) {
            services.push(row.request[..2].to_owned());
        }
    }
    services.sort_unstable();
    services.dedup();
    services
}

fn diagnosed(bench: &Workbench, capture: &str) -> Value {
    let output = bench
        .pintle(["diagnose", "--json", capture])
        .assert()
        .success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

/// Request, name and unit of everything that an export holds, but freeze frames.
fn exported(bench: &Workbench, capture: &str) -> BTreeSet<String> {
    let output = bench.pintle(["export", capture]).assert().success();
    let table = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let rows = reader.records().map(Result::unwrap);
    let names = rows.map(|row| format!("{} {} {}", &row[2], &row[3], &row[5]));
    names.filter(|name| !name.starts_with("02")).collect()
}

fn leading_cause(document: &Value) -> (String, f64) {
    let first = &document["causes"][0];
    let cause = first["cause"].as_str().unwrap().to_owned();
    (cause, first["probability"].as_f64().unwrap())
}

#[tokio::test]
async fn a_recording_of_it_holds_the_same_items_and_leads_to_the_same_judgement() {
    let bench = Workbench::new();
    let fault = "injector_restricted:3:30";
    let mut contents = Vec::new();
    for (name, services) in [
        ("older.capture.csv", Services::SaeJ1979),
        ("newer.capture.csv", Services::Iso14229),
    ] {
        let path = bench.path().join(name);
        record(van8(fault, Trip::short(1), services), &path).await;
        contents.push(Contents::read(&path).unwrap());
    }
    let [older, newer] = &contents[..] else {
        panic!()
    };
    assert_eq!(
        services_asked(&bench.path().join("newer.capture.csv")),
        ["19", "22"]
    );
    let (older, newer) = (items(older), items(newer));
    let both: Vec<_> = older.keys().zip(newer.keys()).collect();
    assert!(older.len() > 40 && older.len() == newer.len(), "{both:?}");
    for ((item, old), (other, new)) in older.iter().zip(&newer) {
        assert_eq!(item, other);
        // both see the range through which it moves, from readings at other moments
        let range = (old.1 - old.0).max(1.0);
        assert!(
            (old.0 - new.0).abs() < 0.35 * range,
            "{item} {old:?} {new:?}"
        );
        assert!(
            (old.1 - new.1).abs() < 0.35 * range,
            "{item} {old:?} {new:?}"
        );
    }
    // three at once instead of six: about half as often, still several a second
    let seconds = Trip::short(1).duration_us() / 1_000_000;
    for pid in [Pid::SHORT_TRIM_BANK_1, Pid::ENGINE_SPEED, Pid::LOAD] {
        let readings = newer[&Item::current(pid)].2;
        assert!(readings > seconds * 4, "{pid}: {readings}");
    }
    let [older, newer] =
        ["older.capture.csv", "newer.capture.csv"].map(|capture| exported(&bench, capture));
    assert!(older.len() > 40);
    assert_eq!(newer, older);
    let [older, newer] = ["older.capture.csv", "newer.capture.csv"]
        .map(|capture| leading_cause(&diagnosed(&bench, capture)));
    assert_eq!(older.0, "injector_restricted");
    assert_eq!(newer.0, older.0);
    assert!((newer.1 - older.1).abs() < 0.15, "{older:?} {newer:?}");
}

#[tokio::test]
async fn its_codes_lamp_and_freeze_frame_are_those_of_the_other() {
    let mut found = Vec::new();
    for services in [Services::SaeJ1979, Services::Iso14229] {
        let mut car = van8("injector_dead:3", Trip::warm(1), services);
        car.advance_to(600_000_000);
        let bay = Bay::with(car, Mishaps::default(), Clock::simulated());
        let session = Session::connect(device(bay.path()), bay.clock.clone()).await;
        let mut session = session.unwrap();
        assert_eq!(session.connection().services, services);
        found.push(session.codes().await.unwrap());
    }
    let [older, newer] = &found[..] else { panic!() };
    let code = "P0303".parse::<TroubleCode>().unwrap();
    let stored = newer.stored.as_ref().unwrap();
    assert!(stored.iter().any(|found| found.code == code));
    assert_eq!(stored, older.stored.as_ref().unwrap());
    assert_eq!(newer.pending, older.pending);
    assert_eq!(newer.permanent, older.permanent);
    assert_eq!(newer.status, older.status);
    assert!(newer.status.unwrap().is_lamp_on());
    let [older, newer] = [older, newer].map(|codes| codes.freeze_frame.clone().unwrap());
    assert_eq!(newer.code, older.code);
    for value in &older.values {
        assert!(newer.values.contains(value), "{value:?}");
    }
}

/// ISO 14229-1: `7F`, service, 78 asks to wait.
#[tokio::test]
async fn one_that_asks_to_wait_before_each_answer_is_read_all_the_same() {
    let mut found = Vec::new();
    for waits in [0, 1] {
        let car = van8("none_found", Trip::warm(1), Services::Iso14229).with_waits(waits, 300_000);
        let bay = Bay::with(car, Mishaps::default(), Clock::simulated());
        let session = Session::connect(device(bay.path()), bay.clock.clone()).await;
        let mut session = session.unwrap();
        let codes = session.codes().await.unwrap();
        found.push((session.connection().controllers.clone(), codes));
    }
    assert_eq!(found[0].1.stored, Some(Vec::new()));
    assert!(found[0].1.status.is_some());
    assert_eq!(found[1], found[0]);
}

#[test]
fn a_probe_says_which_services_the_car_answers() {
    let probed = |more: &[&str]| {
        let bench = Workbench::new();
        let bay = Bay::real("van8");
        let arguments = [&["probe", "--port", bay.path()], more].concat();
        let output = bench.pintle(arguments).assert().success();
        String::from_utf8(output.get_output().stdout.clone()).unwrap()
    };
    let (json, text) = std::thread::scope(|scope| {
        let text = scope.spawn(|| probed(&[]));
        (probed(&["--json"]), text.join().unwrap())
    });
    let probe: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(probe["services"], "iso14229");
    assert_eq!(probe["identification"], "000HRBRVAN8000008");
    assert_eq!(probe["calibrations"][0], "HR-VAN8-1600-D02");
    assert_eq!(probe["controllers"].as_array().unwrap().len(), 2);
    assert!(probe["readiness"].as_array().unwrap().len() > 3);
    assert!(probe["link"]["answers_per_s"].as_f64().unwrap() > 5.0);
    for words in ["ISO 14229", "F4 0C  engine speed", "F6 ", "F8 "] {
        assert!(text.contains(words), "{words}: {text}");
    }
}
