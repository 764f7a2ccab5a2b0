//! A car on the live screen.

use pintle::{
    clock::Clock,
    simulator::{
        adapter::Mishaps,
        car::{Car, fault::Fault, fleet, trip::Trip},
    },
};
use rustix::process::Signal;

use super::Terminal;
use crate::{
    bay::Bay,
    harness::Workbench,
    job::{opened, stored},
    recording::{Line, lines},
};

const SIZE: (u16, u16) = (100, 30);

/// A four-cylinder whose third injector passes 30 % less, in real time, ten minutes into its trip.
fn faulty() -> Bay {
    let fault: Fault = "injector_restricted:3:30".parse().unwrap();
    let spec = fleet::car("van3").unwrap();
    let mut car = Car::new(spec, &[fault], Trip::warm(1), 1).unwrap();
    car.advance_to(600_000_000);
    Bay::with(car, Mishaps::default(), Clock::real())
}

fn watch(bench: &Workbench, bay: &Bay, more: &[&str]) -> Terminal {
    let arguments = [&["watch", "--port", bay.path(), "--baud", "38400"], more].concat();
    Terminal::start(bench, SIZE, &arguments)
}

fn recorded(bench: &Workbench) -> Vec<Line> {
    lines(&bench.path().join("a.capture.csv"))
}

fn marks(lines: &[Line]) -> Vec<&str> {
    let marks = lines
        .iter()
        .filter(|line| line.kind == pintle::capture::Kind::Mark);
    marks.map(|line| line.response.as_str()).collect()
}

#[test]
fn what_is_watched_is_recorded_with_its_marks() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
    terminal.wait_for("● a.capture.csv");
    terminal.wait_for("bank 1");
    terminal.wait_for("rpm");
    terminal.send("m");
    terminal.wait_for("mark 1");
    terminal.send("hose q\r");
    terminal.wait_for("mark 1: hose q");
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    terminal.assert_given_back();
    // what stays on the terminal: the finding and where the recording is
    assert!(
        terminal.text().contains("a.capture.csv: "),
        "{}",
        terminal.text()
    );
    let recorded = recorded(&bench);
    assert_eq!(
        marks(&recorded),
        [
            "recording starts",
            "mark 1",
            "mark 1: hose q",
            "recording ends"
        ]
    );
    assert!(recorded.iter().any(|line| line.request.contains("0C")));
}

#[test]
fn a_wish_of_the_system_to_end_leaves_a_complete_recording() {
    for signal in [Signal::TERM, Signal::HUP] {
        let (bench, bay) = (Workbench::new(), faulty());
        let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
        terminal.wait_for("bank 1");
        terminal.signal(signal);
        assert_eq!(terminal.wait_for_end().code(), Some(130), "{signal:?}");
        terminal.assert_given_back();
        assert_eq!(
            marks(&recorded(&bench)),
            ["recording starts", "recording ends"]
        );
    }
}

#[test]
fn control_c_interrupts_and_leaves_a_complete_recording() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
    terminal.wait_for("bank 1");
    // also while a mark is being typed
    terminal.send("mhose\x03");
    assert_eq!(terminal.wait_for_end().code(), Some(130));
    terminal.assert_given_back();
    let said = terminal.text();
    assert!(said.contains("stopped; a.capture.csv: "), "{said}");
    assert_eq!(
        marks(&recorded(&bench)),
        ["recording starts", "mark 1", "recording ends"]
    );
}

#[test]
fn control_d_ends_as_the_end_key_does() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &[]);
    terminal.wait_for("bank 1");
    terminal.send("\x04");
    assert_eq!(terminal.wait_for_end().code(), Some(0));
    terminal.assert_given_back();
}

#[test]
fn a_terminal_that_is_closed_leaves_a_complete_recording() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
    terminal.wait_for("bank 1");
    terminal.lose();
    assert!(terminal.wait_for_end().code().is_some());
    assert_eq!(
        marks(&recorded(&bench)),
        ["recording starts", "recording ends"]
    );
}

#[test]
fn a_screen_that_was_put_aside_is_drawn_again_and_goes_on() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
    terminal.wait_for("bank 1");
    // without a shell to come back to, the system does not let it stop; all else is the same
    terminal.send("\x1a");
    terminal.wait_for("screen suspended");
    terminal.wait_for("● a.capture.csv");
    terminal.send("m");
    terminal.wait_for("mark 1");
    terminal.send("\x1b");
    terminal.wait_until("no typing", |text| !text.contains("Mark written"));
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    terminal.assert_given_back();
}

#[test]
fn a_lost_adapter_is_reported_with_what_to_do() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--record", "a.capture.csv"]);
    terminal.wait_for("bank 1");
    drop(bay);
    terminal.wait_for("plug the adapter in again");
    terminal.wait_for("link trouble");
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    let recorded = recorded(&bench);
    assert_eq!(marks(&recorded), ["recording starts", "recording ends"]);
}

#[test]
fn a_missing_adapter_is_waited_for() {
    let bench = Workbench::new();
    let path = bench.path().join("nowhere");
    let path = path.to_str().unwrap();
    let mut terminal = Terminal::start(&bench, SIZE, &["watch", "--port", path]);
    terminal.wait_for("no car");
    terminal.wait_for("there is no such device");
    // nothing is recorded yet that a mark could stand in: letters are keys, not a mark's text
    terminal.send("m?");
    terminal.wait_for("Show or hide this page.");
    terminal.send("q");
    assert_eq!(terminal.wait_for_end().code(), Some(0));
    terminal.assert_given_back();
}

#[test]
fn a_guided_run_asks_whether_to_record_and_says_what_was_skipped() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--guide"]);
    terminal.wait_for("Record this run? (y/n)");
    terminal.send("perhaps\ry\r");
    terminal.wait_for("● recording-");
    terminal.wait_for("Warm idle step 2 of 6");
    terminal.send("nnnn");
    terminal.wait_for("Skipped: warm idle, 2500 rpm, ");
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    let text = terminal.text();
    assert!(text.contains("Skipped: warm idle, 2500 rpm, "), "{text}");
    assert!(!text.contains("Enough data"), "{text}");
    let names = std::fs::read_dir(bench.path()).unwrap();
    let names: Vec<_> = names.map(|entry| entry.unwrap().file_name()).collect();
    assert!(
        names
            .iter()
            .any(|name| name.to_string_lossy().starts_with("recording-")),
        "{names:?}"
    );
}

#[test]
fn the_guide_says_what_to_hold_and_goes_on_when_asked() {
    let (bench, bay) = (Workbench::new(), faulty());
    let mut terminal = watch(&bench, &bay, &["--guide"]);
    terminal.wait_for("Record this run? (y/n)");
    terminal.send("n\r");
    terminal.wait_for("Warm idle step 2 of 6");
    terminal.wait_for("Stand still");
    terminal.wait_for("Caution: extract the exhaust");
    terminal.send("n");
    terminal.wait_for("2500 rpm step 3 of 6");
    terminal.send("b");
    terminal.wait_for("Warm idle step 2 of 6");
    terminal.wait_for("not recorded");
    terminal.send("?");
    terminal.wait_for("Back to the step before.");
    terminal.send("?q");
    assert!(terminal.wait_for_end().success());
}

#[test]
fn without_a_terminal_there_is_no_screen() {
    let bench = Workbench::new();
    let assert = bench
        .pintle(["watch", "--port", "nowhere"])
        .assert()
        .code(1);
    let said = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
    assert!(said.contains("terminal window"), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
}

#[test]
fn another_car_than_the_jobs_is_not_watched_into_it() {
    let (bench, bay) = (Workbench::new(), Bay::real("van7"));
    opened(&bench, "shakes at idle");
    let mut terminal = watch(&bench, &bay, &["--job", "visit"]);
    assert_eq!(terminal.wait_for_end().code(), Some(1));
    terminal.assert_given_back();
    // the terminal breaks the line where its width ends
    let text = terminal.text().replace('\n', "");
    for vin in ["000HRBRVAN3000003", "000HRBRVAN7000007"] {
        assert!(text.contains(vin), "{text}");
    }
    let filed = std::fs::read_dir(bench.path().join("visit/captures"));
    assert_eq!(filed.unwrap().count(), 1);
    let before = stored("van3-healthy.capture.csv.gz");
    let before = ["--before", before.to_str().unwrap()];
    assert_eq!(watch(&bench, &bay, &before).wait_for_end().code(), Some(1));
}
