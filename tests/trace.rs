//! Traces: what `--trace` keeps of a conversation, and `replay` playing it.

use std::{
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, Command, Stdio},
    time::Duration,
};

use pintle::{
    clock::Clock,
    link::{LinkError, Session},
    simulator::adapter::{TracePlayer, endpoint::open_pty},
    trace::{self, Event},
};
use serde_json::Value;

use crate::{
    bay::{Bay, device},
    harness::Workbench,
};

/// No command may hang: after this time a test fails.
const AT_MOST: Duration = Duration::from_secs(60);

#[test]
fn a_trace_keeps_every_byte_both_ways_and_the_opening_with_its_speed() {
    let bench = Workbench::new();
    let bay = Bay::real("van3");
    bench
        .pintle(["codes", "--port", bay.path(), "--baud", "38400"])
        .args(["--trace", "a.trace"])
        .timeout(AT_MOST)
        .assert()
        .success();
    let entries = trace::read(&bench.path().join("a.trace")).unwrap();
    assert_eq!(entries[0].event, Event::Opened(Some(38_400)));
    let (mut sent, mut heard) = (Vec::new(), Vec::new());
    for entry in &entries {
        match &entry.event {
            Event::Out(bytes) => sent.extend_from_slice(bytes),
            Event::In(bytes) => heard.extend_from_slice(bytes),
            other => assert!(matches!(other, Event::Opened(_)), "{other:?}"),
        }
    }
    assert!(sent.starts_with(b"ATZ\rATE0\r"));
    assert!(heard.starts_with(b"ATZ\r"), "the echo of the first command");
    // each command ends with a line end and is answered by one prompt
    let count = |bytes: &[u8], what| bytes.iter().filter(|byte| **byte == what).count();
    assert_eq!(count(&sent, b'\r'), count(&heard, b'>'));
}

#[test]
fn an_existing_trace_is_refused_before_anything_is_opened() {
    let bench = Workbench::new();
    let path = bench.file("a.trace", "mine");
    let arguments = ["codes", "--port", "/dev/none", "--trace", "a.trace"];
    let assert = bench.pintle(arguments).timeout(AT_MOST).assert().code(1);
    let line = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
    assert!(line.contains("a.trace: the file already exists"), "{line}");
    assert_eq!(std::fs::read_to_string(path).unwrap(), "mine");
}

#[tokio::test]
async fn a_probe_of_a_played_trace_finds_what_the_first_probe_found() {
    for car in ["van3", "wagon2", "hatch5"] {
        let bench = Workbench::new();
        let path = bench.path().join("a.trace");
        let bay = Bay::simulated(car);
        let writer = trace::Writer::create(&path, |error| panic!("{error}")).unwrap();
        let clock = bay.clock.clone();
        let mut session = Session::connect_traced(device(bay.path()), clock, Some(writer), |_| ())
            .await
            .unwrap();
        let first = session.probe().await.unwrap();
        let connection = session.connection().clone();
        drop(session);

        let player = TracePlayer::new(&trace::read(&path).unwrap()).unwrap();
        let clock = Clock::simulated();
        let endpoint = open_pty(player, clock.clone()).unwrap();
        let mut session = Session::connect(device(endpoint.address()), clock)
            .await
            .unwrap();
        assert_eq!(session.connection(), &connection, "{car}");
        let again = session.probe().await.unwrap();
        assert_eq!(again.codes, first.codes, "{car}");
        assert_eq!(again.identification, first.identification, "{car}");
        assert_eq!(again.calibrations, first.calibrations, "{car}");
        assert_eq!(again.quality.unwrap().errors(), 0, "{car}");
    }
}

#[tokio::test]
async fn every_golden_dialogue_can_be_plugged_into() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/dialogues");
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path
            .extension()
            .is_none_or(|extension| extension != "trace")
        {
            continue;
        }
        let expected = std::fs::read_to_string(path.with_extension("expected")).unwrap();
        let player = TracePlayer::new(&trace::read(&path).unwrap()).unwrap();
        let clock = Clock::simulated();
        let endpoint = open_pty(player, clock.clone()).unwrap();
        let found = match Session::connect(device(endpoint.address()), clock).await {
            Ok(session) => format!("connected: {},", session.connection().protocol.id()),
            Err(LinkError::Setup(failure)) => format!("failed: {failure}\n"),
            Err(other) => other.to_string(),
        };
        assert!(expected.starts_with(&found), "{}: {found}", path.display());
    }
}

/// `pintle replay` in a process of its own, until it is dropped.
pub struct Replay {
    child: Child,
    /// The option and address that it printed.
    pub plug: Vec<String>,
}

impl Replay {
    pub fn start(bench: &Workbench, file: &str, more: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_pintle"))
            .current_dir(bench.path())
            .args(["replay", file, "--serve"])
            .args(more)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut output = BufReader::new(child.stdout.take().unwrap());
        output.read_line(&mut line).unwrap();
        let plug = line.split_whitespace().map(str::to_owned).collect();
        Self { child, plug }
    }
}

impl Drop for Replay {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

/// A car with a stored misfire code of cylinder 3 and one controller, by hand from ISO 15765-4 and SAE J1979.
const CODES: &str = "pintle trace v1
# an adapter at another speed first: not readable, and not what is played
0 open 38400 baud
10 out ATZ\\r
500 in \\xFE\\xF8\\0
600 lost closed
700 open 115200 baud
800 out ATZ\\r
9000 in ATZ\\r\\r\\rSERIAL ADAPTER v3.2\\r\\r>
9100 out ATE0\\r
9500 in ATE0\\rOK\\r\\r>
9600 out ATI\\r
9700 in SERIAL ADAPTER v3.2\\r\\r>
9800 out ATRV\\r
9900 in 12.6V\\r\\r>
10000 out ATSP0\\r
10100 in OK\\r\\r>
10200 out 0100\\r
20000 in SEARCHING...\\r
30000 in 7E8064100D818000100\\r\\r>
31000 out ATDPN\\r
31100 in A6\\r\\r>
32000 out 03\\r
33000 in 7E80443010303000000\\r\\r>
34000 out 07\\r
35000 in 7E80247000000000000\\r\\r>
36000 out 0101\\r
37000 in 7E80641018107E50000\\r\\r>
38000 out 0A\\r
39000 in NO DATA\\r\\r>
";

#[test]
fn codes_are_read_from_a_replayed_trace_as_from_the_car() {
    let bench = Workbench::new();
    bench.file("a.trace", CODES);
    for (more, option) in [(&["--tcp"][..], "--tcp"), (&[], "--port")] {
        let replay = Replay::start(&bench, "a.trace", more);
        assert_eq!(replay.plug[0], option);
        let command = bench
            .pintle(["codes", "--json"])
            .args(&replay.plug)
            .timeout(AT_MOST)
            .assert()
            .success();
        let codes: Value = serde_json::from_slice(&command.get_output().stdout).unwrap();
        assert_eq!(codes["stored"][0]["code"], "P0303", "{codes}");
        assert_eq!(codes["stored"][0]["controller"], "7E8", "{codes}");
        assert_eq!(codes["lamp_on"], true, "{codes}");
        // asked and none there; asked and no answer
        assert_eq!(
            codes["pending"].as_array().map(Vec::len),
            Some(0),
            "{codes}"
        );
        assert_eq!(codes["permanent"], Value::Null, "{codes}");
    }
}

#[test]
fn what_cannot_be_played_is_reported_in_one_line() {
    let bench = Workbench::new();
    bench.file("cut.capture.csv", "# capture 1\n");
    bench.file("mute.capture.csv", "# capture 1\n# {}\n5,mark,,,nobody\n");
    bench.file(
        "good.capture.csv",
        "# capture 1\n# {}\n5,data,7E8,010C,410C0BB8\n",
    );
    bench.file("table.csv", "time,rpm\n0,800\n");
    bench.file("letter.txt", "Dear all\n");
    bench.file("bad.trace", "pintle trace v1\n1 out ATZ\\r\n2 in \\q\n");
    bench.file("silent.trace", "pintle trace v1\n");
    bench.file("good.trace", "pintle trace v1\n1 out ATZ\\r\n2 in OK>\n");
    for (arguments, code, words) in [
        (
            &["cut.capture.csv", "--serve"][..],
            1,
            "ends inside the header",
        ),
        (
            &["mute.capture.csv", "--serve"],
            1,
            "holds no answer of a car",
        ),
        (
            &["good.capture.csv", "--serve", "--from", "1s"],
            1,
            "only 0 s long",
        ),
        (&["good.capture.csv", "--tcp"], 2, "--serve"),
        (
            &["good.trace", "--serve", "--from", "1s"],
            2,
            "only a capture",
        ),
        (&["table.csv", "--serve"], 1, "pintle import"),
        (
            &["letter.txt", "--serve"],
            1,
            "neither a capture nor a trace; its first line is \"Dear all\"",
        ),
        (&["bad.trace", "--serve"], 1, "line 3: after a backslash"),
        (&["silent.trace", "--serve"], 1, "nothing was sent"),
        (&["none.trace", "--serve"], 1, "there is no such file"),
        (
            &["good.trace", "--serve", "--tcp", "256.0.0.1:1"],
            1,
            "256.0.0.1:1: ",
        ),
        (&["good.trace"], 2, "--serve"),
    ] {
        let command = [&["replay"], arguments].concat();
        let assert = bench.pintle(command).timeout(AT_MOST).assert().code(code);
        let said = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
        assert!(said.contains(words), "{said}");
        assert!(code == 2 || said.lines().count() == 1, "{said}");
    }
}
