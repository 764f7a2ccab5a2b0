//! Two cars are never taken for one: what is judged together, or filed together, is of one car.

use std::{
    fs::{self, File},
    io::{Read, Write},
    process::Output,
};

use flate2::{Compression, read::MultiGzDecoder, write::GzEncoder};
use serde_json::Value;

use crate::{
    harness::Workbench,
    job::{opened, said, stored},
};

#[cfg(unix)]
mod at_the_port;

const VAN_3: &str = "van3-injector-3-down-30.capture.csv.gz";
const VAN_3_AGAIN: &str = "van3-healthy.capture.csv.gz";
const VAN_7: &str = "van7-weak-coil-2.capture.csv.gz";
const VIN_3: &str = "000HRBRVAN3000003";
const VIN_7: &str = "000HRBRVAN7000007";
const VIN_8: &str = "000HRBRVAN8000008";

/// The text of a stored recording.
fn text_of(name: &str) -> String {
    let mut text = String::new();
    let mut file = MultiGzDecoder::new(File::open(stored(name)).unwrap());
    file.read_to_string(&mut text).unwrap();
    text
}

/// A stored recording as a file of its own, without the rows that hold any of these words.
fn without(bench: &Workbench, stored: &str, name: &str, words: &[&str]) -> String {
    let text = text_of(stored);
    let stays = |line: &&str| !words.iter().any(|word| line.contains(word));
    let lines: Vec<&str> = text.lines().filter(stays).collect();
    bench.file(name, lines.join("\n") + "\n");
    name.to_owned()
}

fn run(bench: &Workbench, arguments: &[&str]) -> Output {
    bench.pintle(arguments).output().unwrap()
}

/// What a refusal says: one line on standard error, nothing on standard output.
fn refused(bench: &Workbench, arguments: &[&str]) -> String {
    let output = run(bench, arguments);
    let line = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{arguments:?}: {line}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    assert_eq!(line.lines().count(), 1, "{line}");
    line
}

/// The document of a command that does its work, and what it said beside it.
fn document(bench: &Workbench, arguments: &[&str]) -> (Value, String) {
    let output = run(bench, arguments);
    let beside = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{arguments:?}: {beside}");
    (serde_json::from_slice(&output.stdout).unwrap(), beside)
}

fn warned(document: &Value, words: &str) -> bool {
    let mut warnings = document["warnings"].as_array().unwrap().iter();
    warnings.any(|warning| warning.as_str().unwrap().contains(words))
}

fn names(stored_captures: &[&str]) -> Vec<String> {
    let paths = stored_captures.iter().map(|name| stored(name));
    paths
        .map(|path| path.to_str().unwrap().to_owned())
        .collect()
}

/// Files a stored recording in the job `visit`.
fn filed(bench: &Workbench, name: &str, as_name: &str) {
    let to = bench.path().join("visit/captures").join(as_name);
    fs::copy(stored(name), to).unwrap();
}

fn captures_filed(bench: &Workbench) -> usize {
    fs::read_dir(bench.path().join("visit/captures"))
        .unwrap()
        .count()
}

#[test]
fn captures_of_two_cars_are_not_judged_together_unless_somebody_says_that_it_is_one() {
    let bench = Workbench::new();
    let [van_3, van_7] = &names(&[VAN_3, VAN_7])[..] else {
        unreachable!()
    };
    let line = refused(&bench, &["diagnose", van_3, van_7]);
    for part in [VAN_3, VIN_3, VAN_7, VIN_7, "--same-car"] {
        assert!(line.contains(part), "{part}: {line}");
    }
    let overruled = ["diagnose", van_3, van_7, "--same-car", "--json"];
    let (found, beside) = document(&bench, &overruled);
    assert!(warned(&found, "--same-car") && warned(&found, VIN_7));
    assert!(
        beside.contains("WARNING") && beside.contains(VIN_7),
        "{beside}"
    );
    assert_eq!(found["captures"].as_array().unwrap().len(), 2);
}

#[test]
fn a_capture_says_which_car_it_is_of() {
    let bench = Workbench::new();
    let van_7 = &names(&[VAN_7])[0];
    let (shown, _) = document(&bench, &["inspect", van_7, "--json"]);
    assert_eq!(shown["car"]["vin"], VIN_7);
    assert_eq!(shown["car"]["calibrations"][0], "HR-VAN7-1600-B11");
    assert_eq!(shown["car"]["misfire_counters"], 4);
    assert!(said(&bench, &["inspect", van_7]).contains(VIN_7));
}

#[test]
fn two_captures_of_one_car_are_judged_without_a_word() {
    let bench = Workbench::new();
    let names = names(&[VAN_3, VAN_3_AGAIN]);
    // the second without its number and its calibration, and stopped when the counters of two cylinders were read
    let short = without(
        &bench,
        VAN_3_AGAIN,
        "short.capture.csv",
        &[",0902,", ",0904,"],
    );
    let text = fs::read_to_string(bench.path().join(&short)).unwrap();
    let stops = text.find(",06A4,").unwrap();
    bench.file(&short, &text[..=text[..stops].rfind('\n').unwrap()]);
    // and one after the controller was programmed anew
    let anew = text_of(VAN_3_AGAIN).replace("2D413034", "2D413035");
    bench.file("anew.capture.csv", anew);
    for second in [&names[1], &short, "anew.capture.csv"] {
        let (found, beside) = document(&bench, &["diagnose", &names[0], second, "--json"]);
        assert_eq!(beside, "", "{second}");
        assert!(!warned(&found, "car"), "{second}: {}", found["warnings"]);
    }
}

#[test]
fn without_a_number_captures_that_look_like_two_cars_are_warned_of_aloud() {
    let bench = Workbench::new();
    let van_3 = without(&bench, VAN_3, "a.capture.csv", &[",0902,"]);
    let van_7 = without(&bench, VAN_7, "b.capture.csv", &[",0902,"]);
    let (found, beside) = document(&bench, &["diagnose", &van_3, &van_7, "--json"]);
    assert!(beside.contains("WARNING"), "{beside}");
    for words in ["look like two cars", "a.capture.csv", "HR-VAN7-1600-B11"] {
        assert!(warned(&found, words), "{words}: {}", found["warnings"]);
        assert!(beside.contains(words), "{words}: {beside}");
    }
    let arguments = ["compare", "--before", &van_3, "--after", &van_7, "--json"];
    let (found, beside) = document(&bench, &arguments);
    assert!(
        beside.contains("WARNING") && warned(&found, "look like two cars"),
        "{beside}"
    );
    assert_eq!(found["verdict"], "cannot_tell");
}

#[test]
fn a_vehicle_file_of_another_engine_is_refused() {
    let bench = Workbench::new();
    let van_7 = &names(&[VAN_7])[0];
    bench.file("six.toml", "cylinders = 6\n");
    let line = refused(&bench, &["diagnose", van_7, "--vehicle", "six.toml"]);
    for part in ["six.toml", "6 cylinders", VAN_7, "4", "--same-car"] {
        assert!(line.contains(part), "{part}: {line}");
    }
    let overruled = [
        "diagnose",
        van_7,
        "--vehicle",
        "six.toml",
        "--same-car",
        "--json",
    ];
    let (found, _) = document(&bench, &overruled);
    assert!(warned(&found, "six.toml"), "{}", found["warnings"]);
    let wagon = &names(&["wagon2-bank-2-lean-injectors.capture.csv.gz"])[0];
    bench.file("four.toml", "cylinders = 4\n");
    refused(&bench, &["diagnose", wagon, "--vehicle", "four.toml"]);
    refused(&bench, &["replay", wagon, "--vehicle", "four.toml"]);
    // what was never seen is no contradiction
    bench.file("maf.toml", "cylinders = 4\nair_metering = \"maf\"\n");
    let (_, beside) = document(
        &bench,
        &["diagnose", van_7, "--vehicle", "maf.toml", "--json"],
    );
    assert_eq!(beside, "");
}

#[test]
fn two_cars_are_not_compared_unless_somebody_says_that_it_is_one() {
    let bench = Workbench::new();
    let names = names(&[VAN_3, VAN_7]);
    let compare = ["compare", "--before", &names[0], "--after", &names[1]];
    let output = run(&bench, &[&compare[..], &["--json"]].concat());
    let line = String::from_utf8(output.stderr).unwrap();
    assert_eq!(
        (output.status.code(), line.lines().count()),
        (Some(1), 1),
        "{line}"
    );
    assert!(line.contains(VIN_3) && line.contains(VIN_7), "{line}");
    let nothing: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(nothing["verdict"], "cannot_tell");
    let (found, _) = document(&bench, &[&compare[..], &["--same-car", "--json"]].concat());
    assert!(warned(&found, VIN_7), "{}", found["warnings"]);
    let sentence = found["sentence"].as_str().unwrap();
    assert!(!sentence.contains("two cars"), "{sentence}");
    bench.file("readings.toml", "[[injector]]\ncylinder = 3\nohms = 12.1\n");
    let against = ["bench", "readings.toml", "--against", &names[0], &names[1]];
    assert!(refused(&bench, &against).contains(VIN_7));
}

#[test]
fn a_recording_on_both_sides_shows_nothing() {
    let bench = Workbench::new();
    let van_3 = &names(&[VAN_3])[0];
    let plain = without(&bench, VAN_3, "plain.capture.csv", &[]);
    for other in [van_3, &plain] {
        let arguments = ["compare", "--json", "--before", van_3, "--after", other];
        let (found, beside) = document(&bench, &arguments);
        assert_eq!(found["verdict"], "cannot_tell");
        assert!(warned(&found, "on both sides"), "{}", found["warnings"]);
        assert!(
            found["sentence"]
                .as_str()
                .unwrap()
                .contains("this shows nothing")
        );
        assert!(beside.contains("on both sides"), "{beside}");
    }
}

#[test]
fn a_recording_given_twice_counts_once() {
    let bench = Workbench::new();
    let van_3 = &names(&[VAN_3])[0];
    let plain = without(&bench, VAN_3, "plain.capture.csv", &[]);
    let (once, _) = document(&bench, &["diagnose", van_3, "--json"]);
    for again in [van_3, &plain] {
        let (twice, beside) = document(&bench, &["diagnose", van_3, again, "--json"]);
        assert_eq!(twice["seconds"], once["seconds"]);
        assert_eq!(twice["causes"], once["causes"]);
        assert_eq!(twice["captures"].as_array().unwrap().len(), 1);
        assert!(warned(&twice, "counts once"), "{}", twice["warnings"]);
        assert!(beside.contains("counts once"), "{beside}");
    }
}

#[test]
fn a_job_that_holds_two_cars_is_refused_and_shown() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    filed(&bench, VAN_7, "after-2026-11-28-101500.capture.csv.gz");
    for command in [&["diagnose", "--job", "visit"][..], &["report", "visit"]] {
        let line = refused(&bench, command);
        assert!(
            line.contains(VIN_3) && line.contains("after-2026-11-28"),
            "{line}"
        );
    }
    assert_eq!(
        run(&bench, &["compare", "--job", "visit"]).status.code(),
        Some(1)
    );
    let filed = |folder: &str| bench.path().join("visit").join(folder).exists();
    assert!(!filed("findings") && !filed("report"));
    assert!(said(&bench, &["job", "show", "visit"]).contains(VIN_7));

    let page = said(&bench, &["report", "visit", "--same-car"]);
    let page = fs::read_to_string(bench.path().join(page.trim())).unwrap();
    assert!(page.contains("--same-car") && page.contains(VIN_7));
    assert!(!page.contains("The captures are of two cars"));
}

#[test]
fn a_capture_of_another_car_is_not_judged_in_a_job() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let van_7 = &names(&[VAN_7])[0];
    let line = refused(&bench, &["diagnose", van_7, "--job", "visit"]);
    assert!(
        line.contains(VIN_7) && line.contains("before-2026-11-20"),
        "{line}"
    );
}

#[test]
fn a_doubt_stands_on_the_page() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let van_7 = without(&bench, VAN_7, "b.capture.csv", &[",0902,"]);
    let to = bench
        .path()
        .join("visit/captures/after-2026-11-28-101500.capture.csv");
    fs::copy(bench.path().join(van_7), to).unwrap();
    let page = said(&bench, &["report", "visit"]);
    let page = fs::read_to_string(bench.path().join(page.trim())).unwrap();
    assert!(page.contains("look like two cars"));
}

#[test]
fn a_compressed_copy_in_a_job_counts_once_on_the_page_too() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let copy = bench
        .path()
        .join("visit/captures/before-2026-11-21-101500.capture.csv.gz");
    let mut packed = GzEncoder::new(File::create(copy).unwrap(), Compression::fast());
    packed.write_all(text_of(VAN_3).as_bytes()).unwrap();
    packed.finish().unwrap();
    let page = said(&bench, &["report", "visit"]);
    let page = fs::read_to_string(bench.path().join(page.trim())).unwrap();
    assert!(page.contains("counts once"));
}
