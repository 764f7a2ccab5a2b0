//! The calibration bench watches cars without an adapter in between; that must make no difference.

#[path = "calibration/dice.rs"]
#[allow(dead_code)]
mod dice;
#[path = "calibration/loggers.rs"]
#[allow(dead_code)]
mod loggers;
#[path = "calibration/watch.rs"]
mod watch;

use std::future::pending;

use pintle::{
    capture::{Fact, Observations, Writer},
    clock::Clock,
    link::Session,
    series::{Builder, summary::Summary},
    simulator::{
        adapter::Mishaps,
        car::{Car, fleet, trip::Trip},
    },
};

use crate::{
    bay::{Bay, device},
    harness::Workbench,
};
use loggers::{Counters, Logger};

const CAR: &str = "wagon2";
const FAULT: &str = "ignition_weak:5:20";

fn car() -> Car {
    let fault = FAULT.parse().unwrap();
    Car::new(fleet::car(CAR).unwrap(), &[fault], Trip::short(3), 3).unwrap()
}

fn sampled() -> Summary {
    let logger = Logger {
        fast: vec![0x0C, 0x0D, 0x04, 0x06, 0x07, 0x08, 0x09, 0x10],
        slow: vec![0x03, 0x05, 0x44],
        slow_rounds: 3,
        gap_us: 60_000,
        together: 6,
        round_us: 300_000,
        counters: Counters::Live,
        counter_rounds: 10,
        asks_codes: false,
    };
    watch::watched(car(), &logger)
}

/// The same car on the same trip, recorded through the virtual adapter and read back.
async fn recorded() -> Summary {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::with(car(), Mishaps::default(), Clock::simulated());
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let length_us = Some(car().trip().duration_us() - 5_000_000);
    let recorded = session.record(Some(&mut writer), length_us, pending, |_, _| {});
    recorded.await.unwrap();
    writer.finish().unwrap();
    let mut builder = Builder::new();
    let take = |fact: Fact<'_>| {
        if let Fact::Reading(reading) = fact {
            builder.push(reading);
        }
    };
    Observations::open(&path).unwrap().for_each(take).unwrap();
    builder.finish()
}

#[tokio::test]
async fn a_car_sampled_without_an_adapter_amounts_to_what_its_capture_amounts_to() {
    let (sampled, recorded) = (sampled(), recorded().await);
    assert!(sampled.trims.len() >= 6, "{:?}", sampled.trims);
    for trim in &sampled.trims {
        let same = |other: &&_| {
            let other: &pintle::series::summary::TrimSummary = other;
            (other.bank, other.region) == (trim.bank, trim.region)
        };
        let other = recorded.trims.iter().find(same).unwrap();
        if trim.seconds.min(other.seconds) < 15.0 {
            continue;
        }
        // the same engine at slightly other moments: well inside the doubt of either mean
        let doubt = trim.std_error_log.hypot(other.std_error_log);
        let apart = (trim.mean_log - other.mean_log).abs();
        assert!(apart < 2.0 * doubt + 0.004, "{trim:?} {other:?}");
        assert!(
            (trim.seconds - other.seconds).abs() < 12.0,
            "{trim:?} {other:?}"
        );
    }
    let misfires = |summary: &Summary| {
        let counted = summary.misfires.clone().unwrap();
        let count = |cylinder: usize| counted.cylinders[cylinder - 1].count;
        (counted.revolutions, count(5), count(1))
    };
    let (here, there) = (misfires(&sampled), misfires(&recorded));
    assert!((here.0 / there.0 - 1.0).abs() < 0.08, "{here:?} {there:?}");
    assert!(
        here.1 > 20.0 && (here.1 / there.1 - 1.0).abs() < 0.25,
        "{here:?} {there:?}"
    );
    assert!((here.2 - there.2).abs() <= 2.0, "{here:?} {there:?}");
}
