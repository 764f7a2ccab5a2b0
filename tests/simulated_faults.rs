//! Faults put into simulated cars, and what the program makes of what the cars answer: recorded
//! answer by answer into a capture, then judged as a person would. The car and the judgement share
//! no physics.

use std::path::Path;

use pintle::{
    capture::{Header, Kind, Row, Writer},
    simulator::{car::Car, fault::Fault, fleet, trip::Trip},
};
use serde_json::Value;

use crate::harness::Workbench;

/// Time between two rounds of asking, µs.
const ROUND_US: u64 = 330_000;
/// Asked in every round: engine speed, speed, trims of two banks, load, air flow, pressure.
const FAST: [&str; 9] = [
    "010C", "010D", "0106", "0107", "0108", "0109", "0104", "0110", "010B",
];
/// Asked in every third round: loop status, coolant, intake air, barometer, run time.
const SLOW: [&str; 5] = ["0103", "0105", "010F", "0133", "011F"];
/// Misfire counters, asked for in every fifteenth round.
const COUNTERS: [&str; 8] = [
    "06A2", "06A3", "06A4", "06A5", "06A6", "06A7", "06A8", "06A9",
];
/// Codes, asked for at the end.
const CODES: [&str; 2] = ["03", "07"];

/// What is asked of the car.
#[derive(Clone, Copy, PartialEq)]
enum Asked {
    /// All of it, with the vehicle file in the header.
    Everything,
    /// No counters, no codes, no vehicle file.
    TrimsAlone,
}

struct Recorder {
    car: Car,
    writer: Writer,
    t_us: u64,
}

impl Recorder {
    fn ask(&mut self, request: &str) {
        let bytes: Vec<u8> = (0..request.len() / 2)
            .map(|at| u8::from_str_radix(&request[2 * at..2 * at + 2], 16).unwrap())
            .collect();
        for answer in self.car.answer(&bytes) {
            let response: String = answer
                .payload
                .iter()
                .map(|byte| format!("{byte:02X}"))
                .collect();
            let row = Row {
                t_us: self.t_us,
                kind: Kind::Data,
                ecu: &answer.address.to_string(),
                request,
                response: &response,
            };
            self.writer.write(&row).unwrap();
        }
    }
}

/// Records a whole trip of a car.
fn record(path: &Path, car: &str, fault: &str, seed: u64, asked: Asked) {
    let spec = fleet::car(car).unwrap();
    let faults: Vec<Fault> = [fault.parse().unwrap()].to_vec();
    let trip = Trip::warm(seed);
    let end_us = trip.duration_us();
    let header = Header {
        vehicle: (asked == Asked::Everything).then(|| spec.vehicle()),
        ..Header::by_this_program()
    };
    let mut recorder = Recorder {
        car: Car::new(spec, &faults, trip, seed).unwrap(),
        writer: Writer::create(path, &header).unwrap(),
        t_us: 0,
    };
    for round in 0..end_us / ROUND_US {
        recorder.t_us = round * ROUND_US;
        recorder.car.advance_to(recorder.t_us);
        FAST.into_iter().for_each(|request| recorder.ask(request));
        if round % 3 == 0 {
            SLOW.into_iter().for_each(|request| recorder.ask(request));
        }
        if round % 15 == 0 && asked == Asked::Everything {
            COUNTERS
                .into_iter()
                .for_each(|request| recorder.ask(request));
        }
    }
    if asked == Asked::Everything {
        CODES.into_iter().for_each(|request| recorder.ask(request));
    }
    recorder.writer.finish().unwrap();
}

/// One entry of the causes: cause, cylinder, bank, probability.
#[derive(Debug)]
struct Found {
    cause: String,
    cylinder: Option<u64>,
    bank: Option<u64>,
    probability: f64,
}

/// What the program says about a trip of a car.
struct Judgement(Vec<Found>);

impl Judgement {
    fn probability_of(&self, cause: &str) -> f64 {
        let same = self.0.iter().filter(|found| found.cause.starts_with(cause));
        same.map(|found| found.probability).sum()
    }

    fn told(&self) -> String {
        format!("{:#?}", &self.0[..self.0.len().min(5)])
    }
}

fn judged_when(car: &str, fault: &str, seed: u64, asked: Asked) -> Judgement {
    let bench = Workbench::new();
    record(
        &bench.path().join("trip.capture.csv"),
        car,
        fault,
        seed,
        asked,
    );
    let run = bench
        .pintle(["diagnose", "--json", "trip.capture.csv"])
        .assert()
        .success();
    let document: Value = serde_json::from_slice(&run.get_output().stdout).unwrap();
    let entries = document["causes"].as_array().unwrap().iter();
    let found = entries.map(|entry| Found {
        cause: entry["cause"].as_str().unwrap().to_owned(),
        cylinder: entry["cylinder"].as_u64(),
        bank: entry["bank"].as_u64(),
        probability: entry["probability"].as_f64().unwrap(),
    });
    Judgement(found.collect())
}

fn judged(car: &str, fault: &str, seed: u64) -> Judgement {
    judged_when(car, fault, seed, Asked::Everything)
}

fn name(fault: &str) -> &str {
    fault.split(':').next().unwrap()
}

/// Faults with a mark of their own are named, with their place.
#[test]
fn faults_that_show_themselves_are_named_with_their_place() {
    for (car, fault, cylinder, bank) in [
        ("van3", "injector_restricted:3:30", Some(3), Some(1)),
        ("hatch5", "injector_restricted:1:35", Some(1), Some(1)),
        ("wagon2", "injectors_restricted_several:2:25", None, Some(2)),
        ("van7", "ignition_weak:2:5", Some(2), Some(1)),
        ("pickup1", "ignition_weak:6:8", Some(6), Some(2)),
        ("van3", "injector_dead:2", Some(2), Some(1)),
        ("van3", "compression_low:4:50", Some(4), Some(1)),
        ("van3", "misfire_random:1", None, None),
        ("van3", "intake_leak:16", None, None),
        ("wagon2", "intake_leak_one_bank:1:16", None, Some(1)),
        ("wagon2", "exhaust_blocked_one_bank:1:20", None, Some(1)),
        ("wagon2", "fuel_pressure_low:30", None, None),
        ("van7", "exhaust_leak:1:14", None, Some(1)),
        ("van3", "purge_stuck:14", None, None),
    ] {
        let judgement = judged(car, fault, 21);
        let first = &judgement.0[0];
        let found = (first.cause.as_str(), first.cylinder, first.bank);
        let told = judgement.told();
        assert_eq!(
            found,
            (name(fault), cylinder, bank),
            "{car} {fault}: {told}"
        );
    }
}

/// A healthy car of every kind, on several trips, is nothing to find.
#[test]
fn healthy_cars_stay_healthy() {
    for car in ["van3", "van7", "wagon2", "pickup1", "hatch5"] {
        for seed in [5, 6] {
            let judgement = judged(car, "none_found", seed);
            let told = format!("{car} {seed}: {}", judgement.told());
            assert_eq!(judgement.0[0].cause, "none_found", "{told}");
            assert!(judgement.probability_of("injector") < 0.2, "{told}");
        }
    }
}

/// What the port cannot tell apart stays apart: an even surplus on a car with an air meter.
#[test]
fn look_alikes_share_the_odds() {
    for fault in [
        "injectors_restricted_several:1:13",
        "air_meter_low:13",
        "fuel_blend:32",
    ] {
        let judgement = judged("van3", fault, 31);
        let told = format!("{fault}: {}", judgement.told());
        assert!(judgement.probability_of(name(fault)) > 0.03, "{told}");
        assert!(judgement.0[0].probability < 0.8, "{told}");
        assert!(judgement.probability_of("none_found") < 0.2, "{told}");
    }
    // a leak of air hides from a car that meters by manifold pressure, and that is said too
    let hidden = judged("van7", "intake_leak:15", 31);
    assert!(
        hidden.probability_of("intake_leak") > 0.04,
        "{}",
        hidden.told()
    );
}

/// Without counters, codes and vehicle file the mixture still speaks, the cylinder stays open.
#[test]
fn without_counters_the_cylinder_stays_open() {
    let judgement = judged_when("van3", "injector_restricted:3:45", 41, Asked::TrimsAlone);
    let told = judgement.told();
    assert!(
        judgement.0.iter().all(|found| found.cylinder.is_none()),
        "{told}"
    );
    assert!(judgement.probability_of("injector") > 0.3, "{told}");
    assert!(
        judgement.probability_of("injector_restricted") > 0.1,
        "{told}"
    );
}
