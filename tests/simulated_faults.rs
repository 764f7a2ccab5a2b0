//! Faults put into simulated cars, and what the judgement makes of what the cars answer. The car
//! and the judgement share no physics; the few answers needed are decoded here by hand from the
//! text of SAE J1979.

use pintle::{
    cause::Cause,
    diagnose::{Diagnosis, Tables, diagnose},
    observation::Observation,
    report::evidence_words,
    series::{
        Builder,
        summary::{CodeList, CodeSeen, Summary},
    },
    simulator::car::{
        Car,
        fault::Fault,
        fleet::{self, CarSpec},
        trip::Trip,
    },
    vehicle::Vehicle,
};
use pintle_protocol::{Item, Pid, dtc::TroubleCode};

/// Time between two rounds of asking, µs.
const ROUND_US: u64 = 330_000;
/// Asked in every round: engine speed, speed, trims of two banks, load, air flow, pressure.
const FAST: [u8; 9] = [0x0C, 0x0D, 0x06, 0x07, 0x08, 0x09, 0x04, 0x10, 0x0B];
/// Asked in every third round: loop status, coolant, intake air, barometer, run time, purge, fuel level, minutes since codes
/// were cleared, fuel pressure, and the rail's pressure beside its command.
const SLOW: [u8; 10] = [0x03, 0x05, 0x0F, 0x33, 0x1F, 0x2E, 0x2F, 0x4E, 0x0A, 0x6D];
/// Misfire counters are asked for in every fifteenth round.
const COUNTER_ROUNDS: u64 = 15;

/// The value of a parameter by its formula in SAE J1979.
fn value(pid: u8, data: &[u8]) -> Option<f64> {
    let a = f64::from(*data.first()?);
    let word = || Some(a * 256.0 + f64::from(*data.get(1)?));
    Some(match pid {
        0x04 | 0x2E | 0x2F => a * 100.0 / 255.0,
        0x05 | 0x0F => a - 40.0,
        0x06..=0x09 => a * 100.0 / 128.0 - 100.0,
        0x0A => a * 3.0,
        0x0C => word()? / 4.0,
        0x10 => word()? / 100.0,
        0x1F | 0x4E => word()?,
        // one byte of which quantities there are, then two bytes each
        0x6D => 10.0 * (f64::from(*data.get(1)?) * 256.0 + f64::from(*data.get(2)?)),
        _ => a,
    })
}

struct Watcher {
    car: Car,
    builder: Builder,
    t_us: u64,
}

impl Watcher {
    fn engine_answer(&mut self, request: &[u8]) -> Option<Vec<u8>> {
        let answers = self.car.answer(request);
        answers.into_iter().next().map(|answer| answer.payload)
    }

    fn push(&mut self, item: Item, value: f64) {
        let t_us = self.t_us;
        self.builder.push(Observation { t_us, item, value });
    }

    fn ask(&mut self, pid: u8) {
        let answer = self.engine_answer(&[0x01, pid]).unwrap_or_default();
        if let [0x41, answered, data @ ..] = &answer[..]
            && *answered == pid
            && let Some(value) = value(pid, data)
        {
            self.push(Item::current(Pid(pid)), value);
            if let (0x6D, [_, _, _, high, low, ..]) = (pid, data) {
                let actual = f64::from(u16::from_be_bytes([*high, *low]));
                self.push(Item::part(Pid(pid), 1), 10.0 * actual);
            }
        }
    }

    /// Records of nine bytes: monitor, test, unit, value, limits; all zero is a test not run.
    fn ask_counter(&mut self, monitor: u8) {
        let answer = self.engine_answer(&[0x06, monitor]).unwrap_or_default();
        for record in answer.get(1..).unwrap_or_default().chunks_exact(9) {
            if record[3..] != [0; 6] {
                let value = f64::from(u16::from_be_bytes([record[3], record[4]]));
                self.push(Item::monitor(record[0], record[1]), value);
            }
        }
    }

    fn ask_codes(&mut self, service: u8, list: CodeList) {
        let answer = self.engine_answer(&[service]).unwrap_or_default();
        for code in answer.get(2..).unwrap_or_default().chunks_exact(2) {
            let code = TroubleCode(u16::from_be_bytes([code[0], code[1]]));
            self.builder.push_code(CodeSeen { code, list });
        }
    }
}

/// What a whole trip of the car amounts to.
fn watched(car: &str, fault: &str, trip: Trip, seed: u64) -> (Summary, Vehicle) {
    watched_on(fleet::car(car).unwrap(), fault, trip, seed)
}

fn watched_on(spec: &CarSpec, fault: &str, trip: Trip, seed: u64) -> (Summary, Vehicle) {
    let faults: Vec<Fault> = [fault.parse().unwrap()].to_vec();
    let end_us = trip.duration_us();
    let mut watcher = Watcher {
        car: Car::new(spec, &faults, trip, seed).unwrap(),
        builder: Builder::new(),
        t_us: 0,
    };
    for round in 0..end_us / ROUND_US {
        watcher.t_us = round * ROUND_US;
        watcher.car.advance_to(watcher.t_us);
        FAST.into_iter().for_each(|pid| watcher.ask(pid));
        if round % 3 == 0 {
            SLOW.into_iter().for_each(|pid| watcher.ask(pid));
        }
        if round % COUNTER_ROUNDS == 0 {
            (0xA2..0xAA).for_each(|monitor| watcher.ask_counter(monitor));
        }
    }
    watcher.ask_codes(0x03, CodeList::Stored);
    watcher.ask_codes(0x07, CodeList::Pending);
    (watcher.builder.finish(), spec.vehicle())
}

fn judged(car: &str, fault: &str, seed: u64) -> Diagnosis {
    let (summary, vehicle) = watched(car, fault, Trip::warm(seed), seed);
    diagnose(&[summary], &vehicle, &Tables::standard().unwrap())
}

fn evidence_lines(diagnosis: &Diagnosis) -> String {
    let of = diagnosis.causes.iter().take(5).map(|finding| {
        let (cause, cylinder, bank) = (finding.cause, finding.cylinder, finding.bank);
        format!("{cause} {cylinder:?} {bank:?} {:.3}", finding.probability)
    });
    of.collect::<Vec<_>>().join("; ")
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
        let diagnosis = judged(car, fault, 21);
        let first = &diagnosis.causes[0];
        let evidence_lines = format!("{car} {fault}: {}", evidence_lines(&diagnosis));
        let cause: Cause = fault.split(':').next().unwrap().parse().unwrap();
        assert_eq!(
            (first.cause, first.cylinder, first.bank),
            (cause, cylinder, bank),
            "{evidence_lines}"
        );
    }
}

/// A healthy car of every kind, on several trips, is nothing to find.
#[test]
fn healthy_cars_stay_healthy() {
    for car in ["van3", "van7", "wagon2", "pickup1", "hatch5"] {
        for seed in [5, 6] {
            let diagnosis = judged(car, "none_found", seed);
            let evidence_lines = format!("{car} {seed}: {}", evidence_lines(&diagnosis));
            assert_eq!(
                diagnosis.causes[0].cause,
                Cause::NoneFound,
                "{evidence_lines}"
            );
            // half of what they have before anything is read
            assert!(diagnosis.injector_probability() < 0.1, "{evidence_lines}");
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
        let diagnosis = judged("van3", fault, 31);
        let evidence_lines = format!("{fault}: {}", evidence_lines(&diagnosis));
        let cause: Cause = fault.split(':').next().unwrap().parse().unwrap();
        // three times as much as before anything is read
        assert!(diagnosis.probability_of(cause) > 0.18, "{evidence_lines}");
        assert!(diagnosis.causes[0].probability < 0.8, "{evidence_lines}");
        assert!(
            diagnosis.probability_of(Cause::NoneFound) < 0.12,
            "{evidence_lines}"
        );
    }
    // a leak of air hides from a car that meters by manifold pressure, and that is said too
    let hidden = judged("van7", "intake_leak:15", 31);
    assert!(
        hidden.probability_of(Cause::IntakeLeak) > 0.1,
        "{}",
        evidence_lines(&hidden)
    );
}

/// Without counters, codes and vehicle file the mixture still speaks, the cylinder stays open.
#[test]
fn without_counters_the_cylinder_stays_open() {
    let (mut summary, _) = watched("van3", "injector_restricted:3:45", Trip::warm(41), 41);
    summary.misfires = None;
    summary.codes.clear();
    summary
        .trims
        .iter_mut()
        .for_each(|trim| trim.without_misfire = None);
    let diagnosis = diagnose(
        &[summary],
        &Vehicle::default(),
        &Tables::standard().unwrap(),
    );
    let evidence_lines = evidence_lines(&diagnosis);
    assert!(
        diagnosis
            .causes
            .iter()
            .all(|finding| finding.cylinder.is_none()),
        "{evidence_lines}"
    );
    assert!(diagnosis.injector_probability() > 0.5, "{evidence_lines}");
    assert!(
        diagnosis.probability_of(Cause::InjectorRestricted) > 0.16,
        "{evidence_lines}"
    );
}

/// What the piece of evidence with these words says of a cause.
fn said(diagnosis: &Diagnosis, cause: Cause, words: &str) -> f64 {
    let of = |f: &&pintle::diagnose::diagnosis::Finding| f.cause == cause;
    let finding = diagnosis.causes.iter().find(of).unwrap();
    let evidence = evidence_words::evidence_lines(finding).find(|e| e.what.contains(words));
    evidence.map_or(0.0, |evidence| evidence.log_odds)
}

/// With a sensor in the rail (PID 0A), pressure and its look-alikes part.
#[test]
fn a_sensor_in_the_rail_parts_pressure_from_its_look_alikes() {
    let van = CarSpec {
        more_pids: &[0x0A, 0x10],
        ..*fleet::car("van3").unwrap()
    };
    let judged = |fault: &str| {
        let (summary, vehicle) = watched_on(&van, fault, Trip::warm(31), 31);
        diagnose(&[summary], &vehicle, &Tables::standard().unwrap())
    };
    for (fault, cause) in [
        ("fuel_pressure_low:22", Cause::FuelPressureLow),
        ("fuel_pressure_high:25", Cause::FuelPressureHigh),
    ] {
        let diagnosis = judged(fault);
        let evidence_lines = evidence_lines(&diagnosis);
        assert!(
            diagnosis.probability_of(cause) > 0.8,
            "{fault}: {evidence_lines}"
        );
        assert!(
            said(&diagnosis, cause, "kPa") > 1.5,
            "{fault}: {evidence_lines}"
        );
    }
    let diagnosis = judged("air_meter_low:13");
    let evidence_lines = evidence_lines(&diagnosis);
    assert!(
        diagnosis.probability_of(Cause::FuelPressureLow) < 0.05,
        "{evidence_lines}"
    );
    assert!(
        said(&diagnosis, Cause::FuelPressureLow, "kPa") < -1.0,
        "{evidence_lines}"
    );
}

/// Direct injection tells what it commands beside what it has (PID 6D).
#[test]
fn direct_injection_is_judged_by_its_command() {
    let low = judged("hatch5", "fuel_pressure_low:25", 31);
    assert_eq!(
        low.causes[0].cause,
        Cause::FuelPressureLow,
        "{}",
        evidence_lines(&low)
    );
    assert!(said(&low, Cause::FuelPressureLow, "command") > 1.5);
    let sound = judged("hatch5", "none_found", 31);
    assert!(
        said(&sound, Cause::FuelPressureLow, "command") < -1.0,
        "{}",
        evidence_lines(&sound)
    );
}

/// E85 filled in between two captures: the level rises, and every correction with it.
#[test]
fn another_fuel_between_two_captures_is_named() {
    let capture = |fault: &str, seed: u64, hour: i64, fuel_level_pct: f64| {
        let trip = Trip {
            fuel_level_pct,
            ..Trip::warm(seed)
        };
        let (mut summary, vehicle) = watched("van3", fault, trip, 51);
        summary.facts.started = Some(jiff::Timestamp::from_second(3600 * hour).unwrap());
        (summary, vehicle)
    };
    let (before, vehicle) = capture("none_found", 51, 1, 18.0);
    let (after, _) = capture("fuel_blend:40", 52, 2, 93.0);
    let diagnosis = diagnose(&[before, after], &vehicle, &Tables::standard().unwrap());
    let evidence_lines = evidence_lines(&diagnosis);
    assert_eq!(
        diagnosis.causes[0].cause,
        Cause::FuelBlend,
        "{evidence_lines}"
    );
    assert!(
        said(&diagnosis, Cause::FuelBlend, "refuelled") > 1.0,
        "{evidence_lines}"
    );
}
