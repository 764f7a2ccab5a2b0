//! What cannot be done, said with the right next step and never with a number of the operating system.

use crate::harness::Workbench;

/// Runs the program, which must refuse with this exit code, and gives what it says.
fn refused(bench: &Workbench, arguments: &[&str], code: i32) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
    assert!(!said.contains("os error"), "{arguments:?}: {said}");
    said
}

fn with_files() -> Workbench {
    let bench = Workbench::new();
    bench.file("drive.csv", "time (s),engine speed (rpm)\n0,800\n1,810\n");
    bench.file(
        "a.capture.csv",
        "# capture 1\n# {}\n0,data,7E8,010C,410C0BB8\n",
    );
    bench.file("form.toml", "");
    let new = ["job", "new", "visit", "--no-questions"];
    assert!(bench.pintle(new).output().unwrap().status.success());
    std::fs::copy(
        bench.path().join("a.capture.csv"),
        bench.path().join("visit/captures/before.capture.csv"),
    )
    .unwrap();
    bench
}

#[test]
fn a_new_file_in_a_folder_that_is_missing_asks_for_the_folder() {
    let bench = with_files();
    let out = "none/x";
    for arguments in [
        &["export", "a.capture.csv", "--out", out][..],
        &["import", "drive.csv", "--out", out],
        &["bench", "--new", out],
        &["report", "visit", "--out", out],
        &["record", "--port", "none", "--out", out],
        &["watch", "--port", "none", "--record", out],
        &["probe", "--port", "none", "--trace", out],
    ] {
        let said = refused(&bench, arguments, 1);
        for words in ["none/x", "there is no such folder", "make the folder first"] {
            assert!(said.contains(words), "{arguments:?}: {said}");
        }
    }
    // the file of the path stands where a folder is needed
    let said = refused(&bench, &["demo", "--out", "form.toml/x"], 1);
    assert!(
        said.contains("a folder is needed") && said.contains("--out"),
        "{said}"
    );
}

#[test]
fn a_name_that_is_taken_is_answered_with_another_name() {
    let bench = with_files();
    for arguments in [
        &["export", "a.capture.csv", "--out", "form.toml"][..],
        &["import", "drive.csv", "--out", "form.toml"],
        &["bench", "--new", "form.toml"],
        &["report", "visit", "--out", "form.toml"],
        &["record", "--port", "none", "--out", "form.toml"],
    ] {
        let said = refused(&bench, arguments, 1);
        for words in ["form.toml", "already exists", "another name"] {
            assert!(said.contains(words), "{arguments:?}: {said}");
        }
    }
}

#[test]
fn a_folder_in_place_of_a_file_and_a_file_in_place_of_a_folder_are_distinguished() {
    let bench = with_files();
    for command in ["inspect", "import", "bench"] {
        let said = refused(&bench, &[command, "visit"], 1);
        assert!(said.contains("this is a folder"), "{command}: {said}");
        let said = refused(&bench, &[command, "form.toml/x"], 1);
        assert!(said.contains("a folder is needed"), "{command}: {said}");
    }
}

#[test]
fn a_number_below_zero_is_answered_with_what_is_expected() {
    let bench = with_files();
    for (arguments, expected) in [
        (&["demo", "--seed", "-1"][..], "a whole number from 0 up"),
        (&["job", "done", "visit", "x", "--cost", "-5"], "from 0 to"),
        (&["job", "new", "--cylinders", "-4"], "1 to 16"),
        (&["job", "new", "--mileage", "-5km"], "148200km"),
        (&["record", "--for", "-5m"], "a number above 0"),
        (
            &["export", "a.capture.csv", "--every", "-1s"],
            "a number above 0",
        ),
    ] {
        let said = refused(&bench, arguments, 2);
        assert!(
            said.contains(expected) && !said.contains("unexpected argument"),
            "{arguments:?}: {said}"
        );
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_called_that() {
    let bench = with_files();
    let full = std::fs::File::create("/dev/full").unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_pintle"))
        .current_dir(bench.path())
        .args(["export", "a.capture.csv"])
        .stdout(full)
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("the disk is full; make room") && !said.contains("os error"),
        "{said}"
    );
}
