//! Texts that a terminal would obey, in every place where a text can come from: nothing of it gets out.

use std::{
    ffi::{OsStr, OsString},
    fs,
    os::unix::ffi::OsStrExt,
    process::Output,
};

use serde_json::{Value, json};

use crate::{harness::Workbench, job::stored};

/// As short as a file name must be: clears a screen, names a window, rings, begins a sequence in one byte, turns the
/// direction of reading, hides.
const SHORT: &str = "x\x1b[2J\x1b]0;owned\x07\u{9b}31m\u{202e}\u{200b}\x08\r\ny";

/// Whether a terminal would obey it, or it would turn or hide the text around it: controls of ISO 6429, directional
/// formatting of UAX #9, line and paragraph separators, invisible format characters, tags.
pub fn is_obeyed(c: char) -> bool {
    let is_format = matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2064}'
        | '\u{2066}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0001}' | '\u{e0020}'..='\u{e007f}');
    is_format || (c.is_control() && c != '\n')
}

/// Every such character but NUL, which no argument and no capture can hold.
fn hostile() -> String {
    let all = ('\u{1}'..='\u{e007f}').filter(|c| is_obeyed(*c));
    format!("{SHORT}{}", all.collect::<String>())
}

/// A capture in which every free text is hostile: label, program, adapter, protocol, controllers, requests, reasons, marks.
pub fn capture(words: &str) -> Vec<u8> {
    let header = json!({
        "program": words,
        "vehicle": {"label": words, "cylinders": 4, "fuel": words},
        "link": {"protocol": words, "adapter": words},
    });
    let mut text =
        format!("# capture 1\n# {header}\nt_us,kind,ecu,request,response\n").into_bytes();
    let mut rows = csv::Writer::from_writer(&mut text);
    let controller = format!("7E8{words}");
    for second in 0..90 {
        let t_us = (second * 1_000_000).to_string();
        let mut row = |kind: &str, ecu: &str, request: &str, response: &str| {
            rows.write_record([&t_us, kind, ecu, request, response])
                .unwrap();
        };
        row("data", "7E8", "010C040D05", "410C0C8004400D00057D");
        row("data", "7E8", "01030607", "4103020006800784");
        if second % 10 == 5 {
            row("mark", "", "", words);
            row("link", "", "", words);
            row("none", &controller, words, words);
            row("data", &controller, "010C", "410C0C80");
            row("data", words, "01FE", "41FE01");
        }
    }
    drop(rows);
    text
}

/// Nothing obeyed, in either of the streams; what came on standard output.
#[track_caller]
fn assert_harmless(output: &Output, what: &str) -> String {
    for stream in [&output.stdout, &output.stderr] {
        let text = String::from_utf8(stream.clone());
        let text = text.unwrap_or_else(|error| panic!("{what}: {error}: {stream:?}"));
        assert!(!text.contains(is_obeyed), "{what}: {text:?}");
    }
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// Runs a command that must succeed, and gives what it said.
#[track_caller]
fn said<S: AsRef<OsStr>>(bench: &Workbench, arguments: &[S]) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    let arguments: Vec<&OsStr> = arguments.iter().map(AsRef::as_ref).collect();
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    assert_harmless(&output, &format!("{arguments:?}"))
}

#[test]
fn no_command_on_a_capture_lets_its_texts_through() {
    let (bench, words) = (Workbench::new(), hostile());
    let name = format!("{SHORT}.capture.csv");
    bench.file(&name, capture(&words));
    for (arguments, shows) in [
        (vec!["inspect"], true),
        (vec!["inspect", "--json"], true),
        (vec!["inspect", "--units", "us"], true),
        (vec!["diagnose"], false),
        (vec!["diagnose", "--json"], true),
        (vec!["compare", "--before", &name, "--after"], false),
        (
            vec!["compare", "--json", "--before", &name, "--after"],
            false,
        ),
        (vec!["export"], true),
        (vec!["export", "--shape", "wide"], true),
    ] {
        let text = said(&bench, &[arguments.as_slice(), &[&name]].concat());
        // seen, not lost
        let seen = text.contains("x�[2J�]0;owned��31m�") || text.contains("x\\u001b[2J");
        assert!(seen || !shows, "{arguments:?}: {text}");
    }
    let inspected: Value =
        serde_json::from_str(&said(&bench, &["inspect", "--json", &name])).unwrap();
    assert_eq!(inspected["header"]["vehicle"]["label"], words.as_str());
    assert_eq!(inspected["marks"]["first"][0]["text"], words.as_str());
    said(&bench, &["export", &name, "--out", "out.csv"]);
    let exported = fs::read_to_string(bench.path().join("out.csv")).unwrap();
    assert!(!exported.contains(is_obeyed), "{exported:?}");
}

#[test]
fn an_import_does_not_let_headings_through() {
    let (bench, words) = (Workbench::new(), hostile());
    let mut table = csv::Writer::from_writer(Vec::new());
    let heading = words.replace(['\n', '\r'], "");
    table
        .write_record(["time (s)", "engine speed (rpm)", &heading])
        .unwrap();
    for second in 0..20 {
        table
            .write_record([&second.to_string(), "800", &heading])
            .unwrap();
    }
    bench.file("table.csv", table.into_inner().unwrap());
    for more in [&[][..], &["--json"]] {
        let name = format!("{SHORT}{}.capture.csv", more.len());
        let text = said(
            &bench,
            &[&["import", "table.csv", "--out", &name], more].concat(),
        );
        assert!(text.contains("[2J"), "{text}");
    }
}

#[test]
fn no_command_on_a_job_lets_its_texts_through() {
    let (bench, words) = (Workbench::new(), hostile());
    let job = format!("{SHORT}-visit");
    let names = ["--label", &words, "--complaint", &words];
    said(&bench, &[&["job", "new", &job], &names[..]].concat());
    let before = bench
        .path()
        .join(&job)
        .join("captures/before-2026-11-20-101500.capture.csv");
    fs::write(&before, capture(&words)).unwrap();
    said(&bench, &["diagnose", "--job", &job]);
    said(&bench, &["bench", "--new", "--job", &job]);
    said(&bench, &["bench", "--job", &job]);
    said(&bench, &["bench", "--job", &job, "--json"]);
    said(&bench, &["job", "choose", &job, &words, "--cost", "12"]);
    said(&bench, &["job", "done", &job, &words]);
    fs::copy(&before, before.with_file_name("after.capture.csv")).unwrap();
    said(&bench, &["diagnose", "--job", &job, "--json"]);
    said(&bench, &["compare", "--job", &job]);
    for arguments in [
        &["show", &job][..],
        &["show", &job, "--json"],
        &["list"],
        &["list", "--json"],
    ] {
        let text = said(&bench, &[&["job"], arguments].concat());
        assert!(text.contains("[2J"), "{arguments:?}: {text}");
    }
    said(&bench, &["report", &job]);
    let mut kinds = Vec::new();
    for folder in ["findings", "report"] {
        for file in fs::read_dir(bench.path().join(&job).join(folder)).unwrap() {
            let path = file.unwrap().path();
            let text = fs::read_to_string(&path).unwrap();
            assert!(!text.contains(is_obeyed), "{path:?}");
            kinds.extend(path.extension().map(OsStr::to_owned));
        }
    }
    for kind in ["json", "html"] {
        assert!(kinds.iter().any(|extension| extension == kind), "{kinds:?}");
    }
}

/// Names that no file has, in the place of every file, port and host; one of them is no UTF-8.
#[test]
fn no_error_lets_the_name_through_that_it_complains_about() {
    let bench = Workbench::new();
    let capture = stored("van3-healthy.capture.csv.gz");
    let short = OsString::from(SHORT);
    let no_text = OsStr::from_bytes(b"no\xffutf8\x1b[2J\x9b").to_owned();
    for name in [&short, &no_text] {
        for (before, after) in [
            (&["inspect"][..], &[][..]),
            (&["export"], &[]),
            (&["diagnose"], &[]),
            (&["diagnose", "--vehicle"], &[capture.as_os_str()]),
            (&["diagnose", "--bench"], &[capture.as_os_str()]),
            (&["diagnose", "--priors"], &[capture.as_os_str()]),
            (&["diagnose", "--job"], &[]),
            (&["compare", "--after", "a", "--before"], &[]),
            (&["import"], &[]),
            (&["import", "--columns"], &[OsStr::new("none.csv")]),
            (&["bench"], &[]),
            (&["replay"], &[]),
            (&["report"], &[]),
            (&["job", "show"], &[]),
            (&["job", "list"], &[]),
            (&["job", "done"], &[]),
            (&["record", "--port"], &[]),
            (&["record", "--job"], &[]),
            (&["probe", "--port"], &[]),
            (&["codes", "--port"], &[]),
            (&["watch", "--port"], &[]),
            (&["probe", "--tcp"], &[]),
        ] {
            let mut arguments: Vec<&OsStr> = before.iter().map(OsStr::new).collect();
            arguments.push(name);
            arguments.extend(after);
            let output = bench.pintle(&arguments).output().unwrap();
            assert!(!output.status.success(), "{arguments:?}");
            assert!(!output.stderr.is_empty(), "{arguments:?}");
            assert_harmless(&output, &format!("{arguments:?}"));
        }
    }
}

#[test]
fn no_error_lets_the_content_through_that_it_complains_about() {
    let bench = Workbench::new();
    let capture = stored("van3-healthy.capture.csv.gz");
    let capture = capture.to_str().unwrap();
    let words = hostile().replace('\n', "");
    bench.file("letter", format!("Dear {words}\n"));
    bench.file("table", format!("time,{words},rpm\n0,1,2\n"));
    bench.file("map.toml", format!("[columns]\n'{SHORT}' = 3\n"));
    bench.file(
        "entry.toml",
        format!("\"{}\" = 3\n", "\\u001B[2J\\u009B\\u202E"),
    );
    bench.file("value.toml", "injection = \"\\u001B[2J\\u009B\\u202E\"\n");
    bench.file("broken.toml", format!("label = {words}\n"));
    fs::create_dir(bench.path().join("visit")).unwrap();
    bench.file("visit/job.toml", "opened = \"\\u001B[2J\\u009B\\u202E\"\n");
    for arguments in [
        &["inspect", "letter"][..],
        &["inspect", "table"],
        &["import", "letter"],
        &["import", "table", "--columns", "map.toml"],
        &["diagnose", capture, "--vehicle", "entry.toml"],
        &["diagnose", capture, "--vehicle", "value.toml"],
        &["diagnose", capture, "--vehicle", "broken.toml"],
        &["diagnose", capture, "--priors", "entry.toml"],
        &["bench", "entry.toml"],
        &["bench", "broken.toml"],
        &["job", "show", "visit"],
    ] {
        let output = bench.pintle(arguments).output().unwrap();
        assert!(!output.status.success(), "{arguments:?}");
        assert_harmless(&output, &format!("{arguments:?}"));
    }
    let output = bench.pintle(["job", "list"]).output().unwrap();
    assert_harmless(&output, "job list");
}

#[test]
fn no_argument_is_echoed_as_it_is() {
    let (bench, words) = (Workbench::new(), hostile());
    let option = format!("--{words}");
    for arguments in [
        &[&*words][..],
        &["inspect", &option, "a"],
        &["inspect", "a", "--units", &words],
        &["inspect", "a", &words],
        &["export", "a", "--shape", &words],
        &["export", "a", "--every", &words],
        &["record", "--for", &words],
        &["demo", "--car", &words],
        &["demo", "--seed", &words],
        &["demo", "--fault", &words],
        &["job", &words],
        &["job", "new", "--mileage", &words],
        &["job", "new", "--cylinders", &words],
        &["job", "done", "a", "--cost", &words],
    ] {
        let output = bench.pintle(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {output:?}");
        assert_harmless(&output, &format!("{arguments:?}"));
    }
}

#[test]
fn serving_a_capture_does_not_let_its_name_through() {
    let bench = Workbench::new();
    let name = format!("{SHORT}.capture.csv");
    bench.file(&name, "# capture 1\n# {}\nt_us,kind,ecu,request,response\n");
    let output = bench.pintle(["replay", &name, "--serve"]).output().unwrap();
    assert!(!output.status.success(), "{output:?}");
    assert_harmless(&output, "replay --serve");
}
