//! A capture served as a car: who records from it gets what the capture holds, at the same time of the recording.

use std::{
    cell::Cell,
    collections::{BTreeMap, BTreeSet},
    future::pending,
    path::Path,
    time::Duration,
};

use pintle::{
    capture::{Kind, Reader, Writer, numbers},
    clock::Clock,
    import::import,
    link::Session,
    simulator::{
        adapter::{Mishaps, VirtualAdapter},
        bus::Bus,
        car::{Car, fault::Fault, fleet, trip::Trip},
        recorded::open,
    },
};
use pintle_protocol::{
    Item,
    pid::{Scaling, table},
};
use serde_json::Value;

use crate::{
    bay::{BAUD, Bay, device},
    harness::{Workbench, real_logs},
    plugged_in::{PluggedIn, assert_trace_only_reads},
    trace::Replay,
};

/// No command may hang: after this time a test fails.
const AT_MOST: Duration = Duration::from_secs(60);
/// Longest time from a value in the car to its row, µs: an answer with the adapter's longest patience behind it.
const WINDOW_US: u64 = 700_000;

/// A capture as a car, in simulated time.
fn served(capture: &Path, clock: &Clock) -> PluggedIn {
    let opened = open(Reader::open(capture).unwrap()).unwrap();
    PluggedIn::serial(VirtualAdapter::new(opened.car, BAUD), clock.clone())
}

async fn record(endpoint: &PluggedIn, clock: Clock, path: &Path, seconds: u64) {
    let mut session = Session::connect(device(endpoint.address()), clock)
        .await
        .unwrap();
    let mut writer = Writer::create(path, &session.header(None)).unwrap();
    let length_us = Some(seconds * 1_000_000);
    let recorded = session
        .record(Some(&mut writer), length_us, pending, |_, _| {})
        .await;
    writer.finish().unwrap();
    recorded.unwrap();
}

/// Records a car that serves a capture.
async fn record_again(capture: &Path, again: &Path, seconds: u64) {
    let clock = Clock::simulated();
    let endpoint = served(capture, &clock);
    record(&endpoint, clock, again, seconds).await;
}

/// The numbers of each item of each controller with their times, and every answer that holds no number.
#[derive(Default)]
struct Held {
    numbers: BTreeMap<(String, Item), Vec<(u64, f64)>>,
    others: BTreeSet<(String, String, String)>,
    first_us: Option<u64>,
    troubles: Vec<String>,
}

fn held(path: &Path) -> Held {
    let mut reader = Reader::open(path).unwrap();
    let mut held = Held::default();
    while let Some(row) = reader.next_row().unwrap() {
        match row.kind {
            Kind::Link => held.troubles.push(row.response.to_owned()),
            Kind::Data | Kind::Value => {
                held.first_us.get_or_insert(row.t_us);
                let ecu = match row.ecu {
                    "" => "7E8",
                    ecu => ecu,
                };
                let mut any = false;
                numbers(&row, |item, number| {
                    any = true;
                    let series = held.numbers.entry((ecu.to_owned(), item)).or_default();
                    series.push((row.t_us, number));
                });
                if !any {
                    let texts = [ecu, row.request, row.response].map(str::to_owned);
                    held.others.insert(texts.into());
                }
            }
            Kind::None | Kind::Mark => {}
        }
    }
    held
}

/// Half of what one count of an item stands for, where a number had to be turned into bytes.
fn half_a_step(item: Item) -> f64 {
    let Item::Current { pid, .. } = item else {
        return 0.0;
    };
    match table::row(pid).unwrap().quantities[0].scaling {
        Scaling::Linear { factor, .. } | Scaling::Signed { factor } => 0.501 * factor,
        Scaling::Code(_) => 0.0,
    }
}

/// Every number of the second recording is one that the first held within a moment before; gives how many there were.
fn compare(first: &Held, again: &Held, tolerance: impl Fn(Item) -> f64) -> usize {
    assert_eq!(again.troubles, [] as [String; 0]);
    // the recording's time runs from its first answer
    let offset_us = first.first_us.unwrap();
    let mut count = 0;
    for (key, series) in &again.numbers {
        let source = &first.numbers[key];
        for (t_us, number) in series {
            let at_us = t_us + offset_us;
            let from_us = at_us.saturating_sub(WINDOW_US);
            let before = source.partition_point(|(time_us, _)| *time_us <= from_us);
            let after = source.partition_point(|(time_us, _)| *time_us <= at_us);
            let possible = &source[before.saturating_sub(1)..after.max(1)];
            let near = |(_, other): &(u64, f64)| (other - number).abs() <= tolerance(key.1);
            assert!(
                possible.iter().any(near),
                "{key:?} at {t_us}: {number}, not {possible:?}"
            );
            count += 1;
        }
    }
    count
}

fn diagnosis(bench: &Workbench, capture: &str) -> Value {
    let assert = bench
        .pintle(["diagnose", capture, "--json", "--vehicle", "vehicle.toml"])
        .timeout(AT_MOST)
        .assert()
        .success();
    serde_json::from_slice(&assert.get_output().stdout).unwrap()
}

fn lead(bench: &Workbench, capture: &str) -> (Value, Value, f64) {
    let first = diagnosis(bench, capture)["causes"][0].clone();
    let probability = first["probability"].as_f64().unwrap();
    (
        first["cause"].clone(),
        first["cylinder"].clone(),
        probability,
    )
}

/// A simulated car recorded, served, recorded again.
async fn there_and_again(bench: &Workbench, car: &str, fault: &str, bus: Bus) -> [Held; 2] {
    let spec = fleet::car(car).unwrap();
    let faults: Vec<Fault> = vec![fault.parse().unwrap()];
    let trip = Trip::short(3);
    let seconds = trip.duration_us() / 1_000_000;
    let car = Car::new(spec, &faults, trip, 3).unwrap().on_bus(bus);
    let (first, again) = (
        bench.path().join("a.capture.csv"),
        bench.path().join("b.capture.csv"),
    );
    let bay = Bay::with(car, Mishaps::default(), Clock::simulated());
    record(&bay.endpoint, bay.clock.clone(), &first, seconds).await;
    record_again(&first, &again, seconds - 5).await;
    let vehicle = toml::to_string(&spec.vehicle()).unwrap();
    bench.file("vehicle.toml", vehicle);
    [held(&first), held(&again)]
}

#[tokio::test]
async fn a_recorded_can_car_says_again_what_it_said_and_is_judged_alike() {
    let bench = Workbench::new();
    let [first, again] =
        there_and_again(&bench, "van3", "injector_restricted:3:30", Bus::Can11At500).await;
    let count = compare(&first, &again, |_| 0.0);
    assert!(count > 20_000, "{count}");
    let keys = |held: &Held| held.numbers.keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&first), keys(&again));
    assert_eq!(first.others, again.others);
    let (one, other) = (lead(&bench, "a.capture.csv"), lead(&bench, "b.capture.csv"));
    println!("{one:?} {other:?}");
    assert_eq!(one.0, "injector_restricted");
    assert_eq!((one.0, one.1), (other.0, other.1));
}

#[tokio::test]
async fn a_recorded_kline_car_says_again_what_it_said_and_is_judged_alike() {
    for bus in [Bus::Iso9141, Bus::Iso14230Fast] {
        let bench = Workbench::new();
        let [first, again] = there_and_again(&bench, "van3", "intake_leak:20", bus).await;
        let count = compare(&first, &again, |_| 0.0);
        assert!(count > 1_000, "{count}");
        let keys = |held: &Held| held.numbers.keys().cloned().collect::<Vec<_>>();
        assert_eq!(keys(&first), keys(&again));
        assert_eq!(first.others, again.others);
        let (one, other) = (lead(&bench, "a.capture.csv"), lead(&bench, "b.capture.csv"));
        println!("{bus:?} {one:?} {other:?}");
        assert_eq!((one.0, one.1), (other.0, other.1));
    }
}

/// Numbers as another logger writes them, every half second: an engine that idles, then is revved.
fn table() -> String {
    let mut text =
        "Time (s),Engine RPM (rpm),STFT B1 (%),LTFT B1 (%),Coolant (C),Calculated load (%)\n"
            .to_owned();
    for row in 0..240 {
        let revved = if (100..160).contains(&row) { 1 } else { 0 };
        let rpm = 810 + row % 7 + 1_700 * revved;
        let short = f64::from(row % 9) - 4.0;
        let load = 21.5 + f64::from(row % 5) + 9.0 * f64::from(revved);
        let time = f64::from(row) / 2.0;
        text += &format!("{time},{rpm},{short},5.1,{},{load}\n", 85 + row / 60);
    }
    text
}

#[tokio::test]
async fn numbers_of_another_logger_come_from_a_car_to_the_step_of_its_bytes() {
    let bench = Workbench::new();
    let log = bench.file("log.csv", table());
    let (first, again) = (
        bench.path().join("a.capture.csv"),
        bench.path().join("b.capture.csv"),
    );
    import(&log, None, None, &first, |_| ()).unwrap();
    record_again(&first, &again, 115).await;
    let (first, again) = (held(&first), held(&again));
    assert_eq!(first.numbers.len(), 5);
    assert_eq!(again.numbers.len(), 5);
    let count = compare(&first, &again, half_a_step);
    assert!(count > 4_000, "{count}");
}

#[tokio::test]
async fn a_real_log_served_as_a_car_is_judged_alike() {
    let Some(folder) = real_logs() else { return };
    let bench = Workbench::new();
    bench.file("vehicle.toml", "cylinders = 4\n");
    let [a, b] = ["a.capture.csv", "b.capture.csv"];
    let (first, again) = (bench.path().join(a), bench.path().join(b));
    import(&folder.join("idle1.csv"), None, None, &first, |_| ()).unwrap();
    record_again(&first, &again, 590).await;
    let count = compare(&held(&first), &held(&again), half_a_step);
    assert!(count > 100_000, "{count}");
    let (one, other) = (lead(&bench, a), lead(&bench, b));
    println!("{count} numbers, {one:?} {other:?}");
    assert_eq!((one.0, one.1), (other.0, other.1));
}

#[tokio::test]
async fn a_recording_that_ends_leaves_a_silent_car_not_one_that_stands_still() {
    let bench = Workbench::new();
    let rows = (0..40).map(|n| {
        format!(
            "{},data,7E8,010C06,410C0BB806{:02X}\n",
            n * 250_000,
            0x80 + n
        )
    });
    let capture = format!("# capture 1\n# {{}}\n{}", rows.collect::<String>());
    let first = bench.file("a.capture.csv", capture);
    let again = bench.path().join("b.capture.csv");
    record_again(&first, &again, 60).await;
    let again = held(&again);
    // ten seconds of answers, and the engine's silence is told
    let last_us = again
        .numbers
        .values()
        .flatten()
        .map(|(t_us, _)| *t_us)
        .max();
    assert!(
        (9_700_000..10_700_000).contains(&last_us.unwrap()),
        "{last_us:?}"
    );
    assert!(
        again.troubles[0].contains("ignition"),
        "{:?}",
        again.troubles
    );
}

#[test]
fn the_program_serves_a_capture_to_the_other_commands() {
    let bench = Workbench::new();
    let mut rows = String::new();
    for second in 0..120 {
        let t_us = second * 1_000_000;
        rows +=
            &format!("{t_us},data,7E8,010C0604,410C0BB8068F0440\n{t_us},data,7E9,010C,410C0BB8\n");
    }
    let capture = format!(
        "# capture 1\n# {{\"link\":{{\"protocol\":\"iso15765-11-500\"}}}}\n0,data,7E8,0902,490201{}\n0,data,7E8,03,43010303\n\
        0,data,7E8,07,4700\n0,none,,0A,NO DATA\n0,data,7E8,0101,41018107E500\n{rows}",
        // HRBRVAN3000000003
        "4852425256414E33303030303030303033"
    );
    // it is known by what is in it, not by its name
    bench.file("car.txt", capture);
    for (more, option) in [(&["--tcp"][..], "--tcp"), (&["--from", "30s"], "--port")] {
        let replay = Replay::start(&bench, "car.txt", more);
        assert_eq!(replay.plug[0], option);
        let traces = Cell::new(0);
        let run = |arguments: &[&str]| {
            let trace = bench
                .path()
                .join(format!("{option}-{}.trace", traces.get()));
            traces.set(traces.get() + 1);
            let command = bench
                .pintle(arguments)
                .args(&replay.plug)
                .arg("--trace")
                .arg(&trace)
                .timeout(AT_MOST)
                .assert()
                .success();
            assert_trace_only_reads(&trace);
            command.get_output().stdout.clone()
        };
        let found: Value = serde_json::from_slice(&run(&["probe", "--json"])).unwrap();
        assert_eq!(found["identification"], "HRBRVAN3000000003", "{found}");
        assert_eq!(found["stored"][0]["code"], "P0303", "{found}");
        assert_eq!(found["permanent"], Value::Null, "{found}");
        assert_eq!(found["supply_v"], Value::Null, "{found}");
        assert_eq!(found["adapter"]["name"], "RECORDED CAR V3.2", "{found}");
        let items = |number: usize| {
            let items = found["controllers"][number]["parameters"]
                .as_array()
                .unwrap();
            let pids = items
                .iter()
                .map(|item| item["pid"].as_str().unwrap().to_owned());
            pids.collect::<Vec<String>>()
        };
        assert_eq!(items(0), ["01", "04", "06", "0C"], "{found}");
        assert_eq!(items(1), ["0C"], "{found}");
        let out = format!("{option}.capture.csv").replace("--", "");
        run(&["record", "--for", "1s", "--out", &out]);
        let held = held(&bench.path().join(&out));
        let trims = &held.numbers[&("7E8".to_owned(), "0106".parse().unwrap())];
        // 8F: (143 − 128) × 100 / 128
        assert!(trims.iter().all(|(_, number)| *number == 11.718_75));
    }
}
