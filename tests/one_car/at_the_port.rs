//! Another car at the port than the one that the job is about.

use pintle::{
    capture::Reader,
    clock::Clock,
    simulator::{adapter::VirtualAdapter, recorded},
};

use super::*;
use crate::{
    bay::{BAUD, Bay},
    plugged_in::PluggedIn,
};

#[test]
fn another_car_is_not_recorded_into_a_job() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let bay = Bay::simulated("van8");
    let port = ["--port", bay.path()];
    let record = ["record", "--job", "visit", "--for", "2s"];
    let line = refused(&bench, &[&record[..], &port].concat());
    for part in [bay.path(), VIN_8, "before-2026-11-20", VIN_3, "--same-car"] {
        assert!(line.contains(part), "{part}: {line}");
    }
    assert_eq!(captures_filed(&bench), 1);
    refused(&bench, &[&["codes", "--job", "visit"][..], &port].concat());
    assert!(!bench.path().join("visit/findings").exists());

    let output = run(&bench, &[&record[..], &port, &["--same-car"]].concat());
    let beside = String::from_utf8(output.stderr).unwrap();
    assert!(
        output.status.success() && beside.contains("WARNING"),
        "{beside}"
    );
    assert_eq!(captures_filed(&bench), 2);
    refused(&bench, &["diagnose", "--job", "visit"]);
}

#[test]
fn the_jobs_own_car_is_recorded_without_a_word() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let bay = Bay::simulated("van3");
    let record = [
        "record",
        "--job",
        "visit",
        "--for",
        "2s",
        "--port",
        bay.path(),
    ];
    let output = run(&bench, &record);
    let beside = String::from_utf8(output.stderr).unwrap();
    assert!(
        output.status.success() && !beside.contains("WARNING"),
        "{beside}"
    );
    assert_eq!(captures_filed(&bench), 2);
    said(&bench, &["diagnose", "--job", "visit"]);
}

/// The car leaves the question for its number without an answer until its recording has begun.
#[test]
fn what_turns_out_to_be_another_car_while_it_is_recorded_is_kept_beside_the_job() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let text = text_of(VAN_7);
    let first = text.find(",data,").unwrap();
    let row_ends = first + text[first..].find('\n').unwrap();
    let t_us = text[..first].rsplit('\n').next().unwrap();
    let late = format!(
        "{}\n{t_us},none,,0902,NO DATA{}",
        &text[..row_ends],
        &text[row_ends..]
    );
    let capture = bench.file("late.capture.csv", late);
    let opened = recorded::open(Reader::open(&capture).unwrap()).unwrap();
    let adapter = VirtualAdapter::new(opened.car, BAUD);
    let endpoint = PluggedIn::serial(adapter, Clock::simulated());
    let port = endpoint.address();
    let record = ["record", "--job", "visit", "--port", port, "--for", "8s"];
    let output = run(&bench, &record);
    let line = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{line}");
    for part in [VIN_3, VIN_7, "other-car-"] {
        assert!(line.contains(part), "{part}: {line}");
    }
    assert_eq!(captures_filed(&bench), 2);
    said(&bench, &["diagnose", "--job", "visit"]);
}

#[test]
fn codes_of_another_car_are_not_cleared_in_a_job() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let bay = Bay::simulated("van7");
    let clear = [
        "codes",
        "--clear",
        "--yes",
        "--job",
        "visit",
        "--port",
        bay.path(),
    ];
    assert!(refused(&bench, &clear).contains(VIN_7));
    assert_eq!(captures_filed(&bench), 1);
}

#[test]
fn a_vehicle_file_of_another_engine_is_refused_before_anything_is_recorded() {
    let bench = Workbench::new();
    bench.file("six.toml", "cylinders = 6\n");
    let bay = Bay::simulated("van3");
    let out = ["--out", "a.capture.csv", "--for", "2s"];
    let record = ["record", "--port", bay.path(), "--vehicle", "six.toml"];
    let line = refused(&bench, &[&record[..], &out].concat());
    assert!(
        line.contains("six.toml") && line.contains("misfire counters for 4"),
        "{line}"
    );
    assert!(!bench.path().join("a.capture.csv").exists());
    let output = run(&bench, &[&record[..], &out, &["--same-car"]].concat());
    assert!(output.status.success(), "{output:?}");
}

/// On a bus before CAN there are no counters, and here no number was read: the fingerprint is what the controller supports.
#[test]
fn a_recording_knows_the_items_that_its_car_supports() {
    let bench = Workbench::new();
    let recorded = |car: &str| {
        let bay = Bay::simulated(car);
        let whole = format!("{car}-whole.capture.csv");
        said(
            &bench,
            &[
                "record",
                "--port",
                bay.path(),
                "--out",
                &whole,
                "--for",
                "1s",
            ],
        );
        let text = fs::read_to_string(bench.path().join(&whole)).unwrap();
        let anonymous = |line: &&str| !line.contains(",0902,") && !line.contains(",0904,");
        let lines: Vec<&str> = text.lines().filter(anonymous).collect();
        let name = format!("{car}.capture.csv");
        bench.file(
            &name,
            lines
                .join("\n")
                .replace("\"engine_controller\"", "\"elsewhere\""),
        );
        name
    };
    let [van, pickup] = ["van1", "pickup4"].map(recorded);
    let (found, _) = document(&bench, &["diagnose", &van, &pickup, "--json"]);
    assert!(
        warned(&found, "other supported items"),
        "{}",
        found["warnings"]
    );
}
