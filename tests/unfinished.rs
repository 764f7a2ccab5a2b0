//! A command that is killed while it writes: nothing half-made stands under the name that was asked for.
//!
//! The system kills a program that writes beyond the largest size it may give a file, always at the same byte: the tests
//! need no luck to hit the middle.

use std::{
    fs,
    os::unix::process::ExitStatusExt,
    path::{Path, PathBuf},
    process::Command,
};

use serde_json::Value;

use crate::harness::Workbench;

/// Runs the program where it is killed in the middle of its file.
fn killed_in_mid_write(bench: &Workbench, arguments: &[&str]) {
    let output = Command::new("sh")
        .current_dir(bench.path())
        // eight blocks of 512 bytes, and no memory dump
        .args(["-c", "ulimit -c 0; ulimit -f 8; exec \"$@\"", "sh"])
        .arg(env!("CARGO_BIN_EXE_pintle"))
        .args(arguments)
        .output()
        .unwrap();
    assert!(output.status.signal().is_some(), "{output:?}");
}

/// A table and a capture whose outcome is larger than that.
fn with_long_files() -> Workbench {
    let bench = Workbench::new();
    let table: String = (0..2000)
        .map(|row| format!("{row},{}\n", 800 + row % 7))
        .collect();
    bench.file("drive.csv", format!("time (s),engine speed (rpm)\n{table}"));
    let rows: String = (0..2000)
        .map(|row| format!("{},data,7E8,010C,410C{:04X}\n", row * 250_000, 3000 + row))
        .collect();
    bench.file("long.capture.csv", format!("# capture 1\n# {{}}\n{rows}"));
    bench
}

fn files_in(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().path()).collect()
}

/// The one unfinished file in a folder, and nothing of the name itself.
fn left_behind(folder: &Path, name: &str) -> PathBuf {
    let of_name = |path: &PathBuf| {
        let file = path.file_name().unwrap().to_str().unwrap();
        file.starts_with(name)
    };
    let all: Vec<PathBuf> = files_in(folder).into_iter().filter(of_name).collect();
    let [left] = all.try_into().unwrap();
    assert!(left.to_str().unwrap().ends_with(".unfinished"), "{left:?}");
    assert!(fs::metadata(&left).unwrap().len() > 0, "killed too early");
    left
}

#[test]
fn a_killed_import_or_export_leaves_nothing_under_the_name_and_the_next_one_says_what_lies_there() {
    for (name, arguments) in [
        ("new.capture.csv", vec!["import", "drive.csv"]),
        ("new.csv", vec!["export", "long.capture.csv"]),
        (
            "new.csv",
            vec!["export", "long.capture.csv", "--shape", "wide"],
        ),
    ] {
        let bench = with_long_files();
        let arguments = [arguments, vec!["--out", name]].concat();
        killed_in_mid_write(&bench, &arguments);
        let left = left_behind(bench.path(), name);

        let again = bench.pintle(&arguments).output().unwrap();
        assert!(again.status.success(), "{again:?}");
        let said = String::from_utf8(again.stderr).unwrap();
        let left_name = left.file_name().unwrap().to_str().unwrap();
        assert!(
            said.contains(left_name) && said.contains("unfinished file"),
            "{said}"
        );
        assert!(bench.path().join(name).exists());
    }
}

#[test]
fn an_unfinished_capture_is_read_by_no_command() {
    let bench = with_long_files();
    let arguments = ["import", "drive.csv", "--out", "new.capture.csv"];
    killed_in_mid_write(&bench, &arguments);
    let left = left_behind(bench.path(), "new.capture.csv");
    for command in ["inspect", "export", "diagnose", "import"] {
        let output = bench
            .pintle([command, left.to_str().unwrap()])
            .output()
            .unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{command}: {said}");
        assert!(said.contains("unfinished"), "{command}: {said}");
    }
}

#[test]
fn an_unfinished_capture_in_a_job_is_no_capture_and_is_named() {
    let bench = with_long_files();
    let new = ["job", "new", "visit", "--no-questions"];
    assert!(bench.pintle(new).output().unwrap().status.success());
    let name = "before-2026-11-20-101500Z.capture.csv";
    let out = format!("visit/captures/{name}");
    killed_in_mid_write(&bench, &["import", "drive.csv", "--out", &out]);
    let left = left_behind(&bench.path().join("visit/captures"), name);
    let left_name = left.file_name().unwrap().to_str().unwrap();

    let shown = bench
        .pintle(["job", "show", "visit", "--json"])
        .output()
        .unwrap();
    let shown: Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert_eq!(shown["captures_before"], 0);
    let unfinished = shown["unfinished"][0].as_str().unwrap();
    assert!(unfinished.ends_with(left_name), "{unfinished}");
    let shown = bench.pintle(["job", "show", "visit"]).output().unwrap();
    let shown = String::from_utf8(shown.stdout).unwrap();
    assert!(shown.contains(left_name), "{shown}");

    let listed = bench.pintle(["job", "list"]).output().unwrap();
    let said = String::from_utf8(listed.stderr).unwrap();
    assert!(said.contains(left_name), "{said}");
    let listed = bench.pintle(["job", "list", "--json"]).output().unwrap();
    let listed: Value = serde_json::from_slice(&listed.stdout).unwrap();
    assert!(listed["jobs"][0]["unfinished"][0].is_string(), "{listed}");
}
