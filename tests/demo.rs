//! The demo, and the captures made with it.

use std::{
    fs,
    path::{Path, PathBuf},
};

use pintle::capture::{Kind, Reader};
use pintle_protocol::bus::hex;
use serde::Deserialize;
use serde_json::Value;

use crate::{
    harness::Workbench,
    plugged_in::{READING, assert_trace_only_reads},
};

/// What stands beside a stored capture.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expected {
    /// How it was made; for people.
    #[serde(rename = "command")]
    _command: String,
    cause: String,
    cylinder: Option<u64>,
    bank: Option<u64>,
    least_probability: f64,
}

fn stored_captures() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let paths = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let mut captures: Vec<PathBuf> = paths
        .filter(|path| path.extension().unwrap() == "gz")
        .collect();
    captures.sort();
    captures
}

fn diagnosis(bench: &Workbench, capture: &Path) -> Value {
    let output = bench
        .pintle([Path::new("diagnose"), capture, Path::new("--json")])
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// All requests in a capture.
fn requests(capture: &Path) -> Vec<Vec<u8>> {
    let mut reader = Reader::open(capture).unwrap();
    let mut requests = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        if matches!(row.kind, Kind::Data | Kind::None) {
            requests.push(hex::decode(row.request).unwrap());
        }
    }
    requests
}

#[test]
fn stored_captures_are_small_and_lead_to_the_fault_that_was_put_in() {
    let bench = Workbench::new();
    let captures = stored_captures();
    assert_eq!(captures.len(), 5);
    for capture in captures {
        assert!(
            fs::metadata(&capture).unwrap().len() < 300_000,
            "{capture:?}"
        );
        let beside = capture
            .to_str()
            .unwrap()
            .replace(".capture.csv.gz", ".expected.toml");
        let expected: Expected = toml::from_str(&fs::read_to_string(beside).unwrap()).unwrap();
        let found = &diagnosis(&bench, &capture)["causes"][0];
        assert_eq!(found["cause"], expected.cause, "{capture:?}");
        assert!(
            found["probability"].as_f64().unwrap() >= expected.least_probability,
            "{capture:?}"
        );
        if expected.cylinder.is_some() {
            assert_eq!(found["cylinder"].as_u64(), expected.cylinder, "{capture:?}");
        }
        if expected.bank.is_some() {
            assert_eq!(found["bank"].as_u64(), expected.bank, "{capture:?}");
        }
    }
}

#[test]
fn the_demo_does_the_job_and_never_overwrites_an_earlier_one() {
    let bench = Workbench::new();
    let arguments = ["demo", "--short", "--fast", "--no-screen", "--out", "job"];
    let output = bench.pintle(arguments).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    let first = text.lines().next().unwrap();
    assert!(first.contains("cylinder 3"), "{first}");
    assert!(text.contains("Result: No fault found"), "{text}");
    assert!(text.contains("Better: cylinder 3 went from"), "{text}");

    let job = bench.path().join("job");
    let only = |folder: &str, side: &str| {
        let files = fs::read_dir(job.join(folder)).unwrap();
        let paths = files.map(|file| file.unwrap().path());
        let of_side = |path: &PathBuf| {
            path.file_name()
                .unwrap()
                .to_str()
                .unwrap()
                .starts_with(side)
        };
        let found: Vec<PathBuf> = paths.filter(of_side).collect();
        assert_eq!(found.len(), 1, "{found:?}");
        found[0].clone()
    };
    for side in ["before", "after"] {
        let kept = fs::read_to_string(only("findings", side)).unwrap();
        let kept: Value = serde_json::from_str(&kept).unwrap();
        let capture = only("captures", side);
        let again = diagnosis(&bench, &capture);
        assert_eq!(kept["causes"], again["causes"], "{side}");
        // Simulated time, not the second that this took: five minutes of driving.
        assert!(
            again["seconds"]["total"].as_f64().unwrap() > 240.0,
            "{side}"
        );
        let requests = requests(&capture);
        let reads = |request: &Vec<u8>| READING.contains(&request[0]);
        assert!(requests.len() > 500 && requests.iter().all(reads), "{side}");
    }
    let page = text
        .lines()
        .last()
        .unwrap()
        .split_whitespace()
        .last()
        .unwrap();
    assert_eq!(bench.path().join(page), only("report", "report"));
    let page = fs::read_to_string(bench.path().join(page)).unwrap();
    for words in [
        "The drive after the work",
        "Better: cylinder 3 went from",
        "Nothing more needs to be done",
    ] {
        assert!(page.contains(words), "{words}");
    }

    let sides = ["before", "after"].map(|side| only("captures", side));
    let [before, after] = &sides;
    let compare = ["compare".as_ref(), "--before".as_ref(), before.as_os_str()];
    let after = ["--after".as_ref(), after.as_os_str(), "--json".as_ref()];
    let output = bench
        .pintle(compare.into_iter().chain(after))
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["schema"], "pintle.comparison/1");
    assert_eq!(found["verdict"], "better");
    let kept = fs::read_to_string(only("findings", "comparison")).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&kept).unwrap(), found);
    let trim = &found["trims"][0];
    assert_eq!(trim["bank"], 1);
    let number = |name: &str| trim[name].as_f64().unwrap();
    assert!(number("low_pct") < number("difference_pct") && number("high_pct") < 0.0);
    assert!(number("matched_seconds") > 60.0);
    let third = &found["misfires"][2];
    assert_eq!(third["cylinder"], 3);
    assert!(third["rate_ratio"].as_f64().unwrap() < 0.1 && third["high"].as_f64().unwrap() < 0.5);
    assert!(found["needed"].as_array().unwrap().is_empty() && found["warnings"].is_array());

    let before = fs::read(only("captures", "before")).unwrap();
    bench.pintle(arguments).assert().code(1);
    assert_eq!(fs::read(only("captures", "before")).unwrap(), before);
}

/// Two cars of the fleet: the captures tell their numbers and calibrations.
#[test]
fn captures_of_two_cars_are_not_compared() {
    let bench = Workbench::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let [van, wagon] = ["van3-healthy", "wagon2-bank-2-lean-injectors"]
        .map(|name| folder.join(format!("{name}.capture.csv.gz")));
    let side = |option: &str, path: &Path| [option.to_owned(), path.display().to_string()];
    let arguments = [
        ["compare".to_owned(), "--json".to_owned()],
        side("--before", &van),
        side("--after", &wagon),
    ];
    let output = bench.pintle(arguments.concat()).output().unwrap();
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["verdict"], "cannot_tell");
    let first = found["warnings"][0].as_str().unwrap();
    assert!(first.contains("two cars"), "{first}");
    let (_, after_its_capital) = first.split_at(1);
    assert!(
        found["sentence"]
            .as_str()
            .unwrap()
            .contains(after_its_capital)
    );
}

#[test]
fn a_fault_or_car_that_is_not_there_is_refused_before_anything_is_made() {
    let bench = Workbench::new();
    for arguments in [
        ["demo", "--car", "van9"],
        ["demo", "--fault", "injector_restricted:9:30"],
        ["demo", "--fault", "gremlins"],
    ] {
        bench.pintle(arguments).assert().code(2);
    }
    assert_eq!(fs::read_dir(bench.path()).unwrap().count(), 0);
}

#[cfg(unix)]
#[test]
fn a_served_adapter_is_found_by_the_option_it_prints_and_ends_on_request() {
    use std::{
        io::{BufRead, BufReader},
        process::{Command, Stdio},
    };

    let bench = Workbench::new();
    for place in ["pty", "tcp"] {
        let mut serving = Command::new(env!("CARGO_BIN_EXE_pintle"))
            .args(["demo", "--serve", place, "--car", "van7"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let printed = serving.stdout.as_mut().unwrap();
        BufReader::new(printed).read_line(&mut line).unwrap();
        let option: Vec<&str> = line.split_whitespace().collect();
        let output = bench
            .pintle([&["codes", "--json"], option.as_slice()].concat())
            .args(["--trace", place])
            .output()
            .unwrap();
        let id = serving.id().to_string();
        assert!(
            Command::new("kill")
                .args(["-INT", &id])
                .status()
                .unwrap()
                .success()
        );
        assert!(serving.wait().unwrap().success());
        assert!(output.status.success(), "{output:?}");
        let codes: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(codes["schema"], "pintle.codes/1");
        assert_trace_only_reads(&bench.path().join(place));
    }
}
