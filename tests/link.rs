//! Commands that talk to a car: what they tell of a good one, and the one line they say when something is wrong.

use std::{
    io::{BufRead, BufReader, Write},
    net::TcpListener,
    path::Path,
    time::Duration,
};

use pintle::{
    clock::Clock,
    link::{LinkError, OpenError, Session},
    simulator::{
        adapter::VirtualAdapter,
        car::{Car, fleet, trip::Trip},
    },
};
use serde_json::Value;

use crate::{
    bay::{BAUD, Bay, device},
    harness::Workbench,
    plugged_in::PluggedIn,
    record_command::Program,
};

/// No command may hang: after this time a test fails.
const AT_MOST: Duration = Duration::from_secs(60);

fn json(bench: &Workbench, arguments: &[&str]) -> Value {
    let assert = bench.pintle(arguments).timeout(AT_MOST).assert().success();
    serde_json::from_slice(&assert.get_output().stdout).unwrap()
}

/// Runs a command that must fail with exit 1, nothing on standard output and one line on standard error.
fn failure(bench: &Workbench, arguments: &[&str]) -> String {
    let assert = bench.pintle(arguments).timeout(AT_MOST).assert().code(1);
    let output = assert.get_output();
    assert_eq!(output.stdout, b"");
    let line = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(line.lines().count(), 1, "{line}");
    line
}

#[test]
fn a_probe_tells_adapter_controllers_items_and_the_quality_of_the_link() {
    let bench = Workbench::new();
    let [bay, other] = ["van3"; 2].map(Bay::real);
    let in_text = || {
        let mut text = bench.pintle(["probe", "--port", other.path()]);
        let text = text.timeout(AT_MOST).assert().success();
        String::from_utf8(text.get_output().stdout.clone()).unwrap()
    };
    let (probe, text) = std::thread::scope(|scope| {
        let text = scope.spawn(in_text);
        let arguments = ["probe", "--port", bay.path(), "--baud", "38400", "--json"];
        (json(&bench, &arguments), text.join().unwrap())
    });
    assert_eq!(probe["schema"], "pintle.probe/1");
    assert_eq!(probe["adapter"]["name"], "HARBOUR ADAPTER V3.2");
    assert_eq!(probe["protocol"], "iso15765-11-500");
    // with or without the engine, depending on how fast this was
    assert!([12.3, 14.1].contains(&probe["supply_v"].as_f64().unwrap()));
    assert_eq!(probe["identification"], "000HRBRVAN3000003");
    assert_eq!(probe["calibrations"][0], "HR-VAN3-2000-A04");
    let engine = &probe["controllers"][0];
    assert_eq!(
        (&engine["address"], &engine["engine"]),
        (&"7E8".into(), &true.into())
    );
    let trims = |parameter: &&Value| parameter["pid"] == "06";
    let trim = engine["parameters"]
        .as_array()
        .unwrap()
        .iter()
        .find(trims)
        .unwrap();
    assert!(
        trim["name"]
            .as_str()
            .unwrap()
            .contains("short term fuel trim")
    );
    assert_eq!(probe["controllers"][1]["engine"], false);
    assert_eq!(probe["stored"].as_array().unwrap().len(), 0);
    assert!(probe["readiness"].as_array().unwrap().len() > 3);
    assert!(probe["link"]["answers_per_s"].as_f64().unwrap() > 5.0);
    assert_eq!(probe["warnings"].as_array().unwrap().len(), 0);
    for words in [
        "engine controller (7E8)",
        "transmission controller (7E9)",
        "01 0C  engine speed",
        "answers/s",
        "supply",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

#[test]
fn codes_are_read_over_a_network_and_misfire_codes_bring_their_caution() {
    let bench = Workbench::new();
    // an injector that no longer opens: its code and its misfires are there after some minutes
    let fault = "injector_dead:3".parse().unwrap();
    let mut car = Car::new(fleet::car("van3").unwrap(), &[fault], Trip::warm(1), 1).unwrap();
    car.advance_to(600_000_000);
    let endpoint = PluggedIn::network(VirtualAdapter::new(car, BAUD), Clock::simulated());
    let codes = json(&bench, &["codes", "--tcp", endpoint.address(), "--json"]);
    assert_eq!(codes["schema"], "pintle.codes/1");
    assert_eq!(codes["lamp_on"], true);
    let has = |list: &str, code: &str| {
        let codes = codes[list].as_array().unwrap();
        codes
            .iter()
            .any(|entry| entry["code"] == code && entry["controller"] == "7E8")
    };
    assert!(has("stored", "P0303"), "{codes}");
    let meaning = |entry: &&Value| entry["meaning"] == "misfires cylinder 3";
    let stored = codes["stored"].as_array().unwrap();
    assert!(stored.iter().any(|entry| meaning(&entry)), "{codes}");
    assert!(codes["cautions"][0].as_str().unwrap().contains("catalyst"));
    let frame = &codes["freeze_frame"];
    assert!(frame["code"].as_str().unwrap().starts_with('P'), "{codes}");
    let speed = |value: &&Value| value["name"] == "engine speed" && value["unit"] == "rpm";
    assert!(
        frame["values"]
            .as_array()
            .unwrap()
            .iter()
            .any(|value| speed(&value)),
        "{codes}"
    );
    let text = bench
        .pintle(["codes", "--tcp", endpoint.address()])
        .timeout(AT_MOST)
        .assert()
        .success();
    let text = String::from_utf8(text.get_output().stdout.clone()).unwrap();
    assert!(
        text.contains("check-engine light: on") && text.contains("freeze frame of P"),
        "{text}"
    );
}

#[tokio::test]
async fn ports_without_an_adapter_are_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let bay = Bay::simulated("van3");
    let missing = folder.path().join("none").display().to_string();
    let places = [&missing, "/dev/null", bay.path()].map(device).to_vec();
    let mut passed = Vec::new();
    let session = Session::connect_first(places, bay.clock.clone(), None, |device, error| {
        passed.push((device.clone(), error.is_adapter_seen()));
    });
    let session = session.await.unwrap();
    assert_eq!(session.device(), &device(bay.path()));
    let passed_over = [(device(&missing), false), (device("/dev/null"), false)];
    assert_eq!(passed, passed_over);
    let none = Session::connect_first(Vec::new(), Clock::simulated(), None, |_, _| ()).await;
    let (device, error) = none.unwrap_err();
    assert!(device.is_none() && error == LinkError::Open(OpenError::NoPort));
}

#[test]
fn ports_are_listed_and_none_is_no_error() {
    let bench = Workbench::new();
    let ports = json(&bench, &["ports", "--json"]);
    assert_eq!(ports["schema"], "pintle.ports/1");
    for port in ports["ports"].as_array().unwrap() {
        assert!(
            port["path"].is_string() && port["kind"].is_string(),
            "{port}"
        );
        assert_eq!(
            port["problem"].is_null(),
            port["next_step"].is_null(),
            "{port}"
        );
    }
    bench.pintle(["ports"]).assert().success();
}

#[test]
fn a_port_that_is_none_is_named_with_the_next_step() {
    let bench = Workbench::new();
    let file = bench.file("notes.txt", "dear reader");
    let file = file.to_str().unwrap();
    for (port, words) in [
        ("/dev/no-such-port", "no such device"),
        ("/dev/null", "not a serial device"),
        (file, "not a serial device"),
        ("/", "not a serial device"),
    ] {
        for command in ["probe", "record", "codes"] {
            let line = failure(&bench, &[command, "--port", port]);
            assert!(line.contains(port) && line.contains(words), "{line}");
            assert!(line.contains("pintle ports"), "{line}");
        }
    }
    assert_eq!(std::fs::read_dir(bench.path()).unwrap().count(), 1);
}

#[test]
fn a_port_that_another_program_uses_is_busy() {
    let bench = Workbench::new();
    let bay = Bay::simulated("van7");
    let mut other = Program::start(&bench, &bay, &[]);
    other.wait_for("recording;");
    let line = failure(&bench, &["codes", "--port", bay.path()]);
    assert!(line.contains("another program is using it"), "{line}");
    other.signal("-INT");
    assert_eq!(other.end().0, Some(130));
    bench
        .pintle(["codes", "--port", bay.path()])
        .timeout(AT_MOST)
        .assert()
        .success();
}

#[test]
fn a_network_address_is_checked_and_nobody_there_is_reported() {
    let bench = Workbench::new();
    bench.pintle(["probe", "--tcp", "here"]).assert().code(2);
    bench
        .pintle(["probe", "--tcp", "a:1", "--port", "b"])
        .assert()
        .code(2);
    let closed = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let line = failure(&bench, &["probe", "--tcp", &closed.to_string()]);
    assert!(
        line.contains("nothing answers") && line.contains("power"),
        "{line}"
    );
}

#[test]
fn a_host_that_does_not_exist_is_distinguished_from_one_that_is_switched_off() {
    let bench = Workbench::new();
    // RFC 2606 reserves the name
    let line = failure(&bench, &["probe", "--tcp", "adapter.invalid:20100"]);
    assert!(
        line.contains("no host of this name") && line.contains("spelling"),
        "{line}"
    );
}

#[test]
fn a_device_that_says_nothing_is_given_up_in_bounded_time() {
    let bench = Workbench::new();
    let silent = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = silent.local_addr().unwrap().to_string();
    let line = failure(&bench, &["record", "--tcp", &address]);
    assert!(
        line.contains("no answer") && line.contains("power"),
        "{line}"
    );
}

#[test]
fn a_device_that_is_no_adapter_is_reported_by_what_it_said() {
    let bench = Workbench::new();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        let mut lines = BufReader::new(stream.try_clone().unwrap());
        let mut line = Vec::new();
        while lines
            .read_until(b'\r', &mut line)
            .is_ok_and(|count| count > 0)
        {
            let _ = stream.write_all(b"$GNTXT,no such sentence\r\n");
        }
    });
    let line = failure(&bench, &["probe", "--tcp", &address]);
    assert!(
        line.contains("not a diagnostic adapter") && line.contains("GNTXT"),
        "{line}"
    );
}

#[test]
fn an_ignition_that_is_off_is_asked_for() {
    let bench = Workbench::new();
    let bay = Bay::simulated("van3");
    bay.endpoint.ignition_off_at(Some(0));
    let line = failure(&bench, &["codes", "--port", bay.path()]);
    assert!(
        line.contains("no controller answers") && line.contains("ignition on"),
        "{line}"
    );
}

#[test]
fn an_existing_capture_is_never_touched() {
    let bench = Workbench::new();
    let mine = bench.file("mine.capture.csv", "mine");
    let path = mine.to_str().unwrap();
    let line = failure(&bench, &["record", "--port", "/dev/null", "--out", path]);
    assert!(line.contains("already exists"), "{line}");
    assert_eq!(std::fs::read_to_string(Path::new(path)).unwrap(), "mine");
}
