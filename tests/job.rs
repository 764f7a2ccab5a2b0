//! A visit through the binary, from the first question to the last step.

use std::{
    fs,
    path::{Path, PathBuf},
};

use serde_json::Value;

use crate::harness::Workbench;

/// A stored recording of a van with an injector 30 % down.
pub fn stored(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("captures")
        .join(name)
}

/// Runs the program and gives what it says on standard output.
pub fn said(bench: &Workbench, arguments: &[&str]) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// A job with a recording before the work.
pub fn opened(bench: &Workbench, complaint: &str) {
    let vehicle = "label = \"van 3\"\ncylinders = 4\ninjection = \"port\"\n";
    bench.file("van3.toml", vehicle);
    let arguments = [
        "job",
        "new",
        "visit",
        "--vehicle",
        "van3.toml",
        "--mileage",
        "92000mi",
    ];
    said(
        bench,
        &[arguments.as_slice(), &["--complaint", complaint]].concat(),
    );
    let before = bench
        .path()
        .join("visit/captures/before-2026-11-20-101500.capture.csv.gz");
    fs::copy(stored("van3-injector-3-down-30.capture.csv.gz"), before).unwrap();
}

fn show(bench: &Workbench) -> Value {
    serde_json::from_str(&said(bench, &["job", "show", "visit", "--json"])).unwrap()
}

fn done(shown: &Value) -> Vec<bool> {
    let steps = shown["steps"].as_array().unwrap().iter();
    steps.map(|step| step["done"].as_bool().unwrap()).collect()
}

#[test]
fn a_visit_goes_through_its_steps_and_nothing_is_lost_on_the_way() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let first = show(&bench);
    // by hand: 92000 mi are 148059.6 km
    assert!((first["visit"]["odometer_km"].as_f64().unwrap() - 148_059.6).abs() < 0.1);
    assert_eq!(done(&first), [true, false, false, false, false, false]);

    let finding = said(&bench, &["diagnose", "--job", "visit"]);
    assert!(finding.contains("cylinder 3"), "{finding}");
    said(&bench, &["diagnose", "--job", "visit"]);
    let findings = fs::read_dir(bench.path().join("visit/findings")).unwrap();
    assert_eq!(
        findings.count(),
        2,
        "the second finding stands beside the first"
    );

    let form = said(&bench, &["bench", "--new", "--job", "visit"]);
    said(&bench, &["bench", "--job", "visit"]);
    assert!(!done(&show(&bench))[2], "an empty form is no reading");
    fs::write(
        bench.path().join(form.trim()),
        "[[injector]]\ncylinder = 3\nohms = 14.1\n",
    )
    .unwrap();
    said(&bench, &["bench", "--job", "visit"]);
    assert_eq!(done(&show(&bench)), [true, true, true, false, false, false]);

    bench.pintle(["job", "done", "visit"]).assert().code(1);
    said(
        &bench,
        &[
            "job",
            "choose",
            "visit",
            "injectors cleaned on the car",
            "--cost",
            "120",
        ],
    );
    said(&bench, &["job", "done", "visit"]);
    let worked = show(&bench);
    assert_eq!(done(&worked), [true, true, true, true, true, false]);
    assert_eq!(worked["done"][0]["cost"], 120.0);
    assert!(
        worked["next"]
            .as_str()
            .unwrap()
            .contains("pintle record --job visit")
    );
    // from now on the other side is meant
    bench
        .pintle(["diagnose", "--job", "visit"])
        .assert()
        .code(1);
    said(&bench, &["diagnose", "--job", "visit", "--side", "before"]);
}

#[test]
fn jobs_are_listed_with_their_next_step_and_no_job_is_opened_over_another() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let before = fs::read(bench.path().join("visit/job.toml")).unwrap();
    bench
        .pintle(["job", "new", "visit", "--label", "wagon 2"])
        .assert()
        .code(1);
    assert_eq!(
        fs::read(bench.path().join("visit/job.toml")).unwrap(),
        before
    );
    let named = |_| said(&bench, &["job", "new", "--label", "wagon 2"]);
    let names: Vec<String> = (0..2).map(named).collect();
    assert_ne!(names[0], names[1]);
    fs::create_dir(bench.path().join("no-job")).unwrap();
    let listed: Value = serde_json::from_str(&said(&bench, &["job", "list", "--json"])).unwrap();
    assert_eq!(listed["jobs"].as_array().unwrap().len(), 3);
    assert_eq!(listed["jobs"][0]["folder"], "visit");
    bench.pintle(["job", "show", "no-job"]).assert().code(1);
    bench
        .pintle(["job", "new", "--mileage", "92000"])
        .assert()
        .code(2);
}

/// Zones as the system takes them without any table of zones: Tokyo is nine hours east, St John's three and a half west.
#[test]
fn what_is_filed_later_is_the_latest_wherever_the_computer_has_gone_meanwhile() {
    let bench = Workbench::new();
    said(&bench, &["job", "new", "visit", "--no-questions"]);
    let said_in = |zone: &str, arguments: &[&str]| {
        let output = bench.pintle(arguments).env("TZ", zone).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    for (zone, ohms) in [("JST-9", "14.1"), ("NST3:30", "12.7")] {
        let form = said_in(zone, &["bench", "--new", "--job", "visit"]);
        let form = bench.path().join(form.trim());
        let entries = "coil_temperature_c = 20\n[[injector]]\ncylinder = 3\n";
        fs::write(form, format!("{entries}ohms = {ohms}\n")).unwrap();
        let judged = said_in(zone, &["bench", "--job", "visit"]);
        assert!(judged.contains(ohms), "{judged}");
    }
}

#[cfg(unix)]
#[test]
fn on_a_terminal_what_no_option_tells_is_asked_for_until_it_can_be() {
    let bench = Workbench::new();
    let answers = "van 9\nfour\n40\n4\n\n92000\n92000 mi\n";
    let output = bench.typed(&["job", "new", "visit"], answers);
    assert!(output.status.success(), "{output:?}");
    let asked = String::from_utf8(output.stderr).unwrap();
    assert_eq!(asked.matches("Number of cylinders").count(), 3, "{asked}");
    assert!(asked.contains("expected 1 to 16"), "{asked}");
    let visit = &show(&bench)["visit"];
    assert_eq!(visit["vehicle"]["label"], "van 9");
    assert_eq!(visit["vehicle"]["cylinders"], 4);
    assert_eq!(
        visit["complaint"],
        Value::Null,
        "an empty line is no complaint"
    );
    assert!((visit["odometer_km"].as_f64().unwrap() - 148_059.6).abs() < 0.1);
}

#[cfg(unix)]
#[test]
fn what_is_recorded_in_a_job_lands_on_its_side_with_the_jobs_vehicle() {
    use pintle::capture::Reader;

    use crate::bay::Bay;

    let bench = Workbench::new();
    let van = "label = \"van 3\"\ncylinders = 4\n";
    bench.file("van3.toml", van);
    said(&bench, &["job", "new", "visit", "--vehicle", "van3.toml"]);
    said(&bench, &["job", "done", "visit", "coil renewed"]);
    let bay = Bay::real("van3");
    said(
        &bench,
        &[
            "record",
            "--job",
            "visit",
            "--port",
            bay.path(),
            "--for",
            "500ms",
        ],
    );
    said(&bench, &["codes", "--job", "visit", "--port", bay.path()]);
    let one = |folder: &str| {
        let mut files = fs::read_dir(bench.path().join("visit").join(folder)).unwrap();
        files.next().unwrap().unwrap().path()
    };
    let capture = one("captures");
    assert!(
        capture
            .file_name()
            .unwrap()
            .to_str()
            .unwrap()
            .starts_with("after-")
    );
    let reader = Reader::open(&capture).unwrap();
    assert_eq!(reader.header().vehicle.as_ref().unwrap().cylinders, Some(4));
    let codes = one("findings");
    assert!(
        codes.to_str().unwrap().ends_with(".codes.json"),
        "{codes:?}"
    );
}
