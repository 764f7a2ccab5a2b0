//! Clearing codes: what must be there before the one request is sent, and what is said of every way it can end.

use std::{
    io::{Read, Write},
    net::TcpListener,
    path::Path,
    sync::{Arc, Mutex},
};

use pintle::capture::{Kind, Reader};
use pintle_protocol::bus::hex;
use serde_json::Value;

use crate::harness::Workbench;

/// What the adapter says to a line: text, or nothing more ever, because it has gone.
type Says = Option<String>;

/// An adapter with a car played by hand, that keeps every line it was sent.
struct Played {
    address: String,
    heard: Arc<Mutex<Vec<String>>>,
}

impl Played {
    /// `differs` gives what this car or adapter says otherwise than [`usual`].
    fn new(mut differs: impl FnMut(&str) -> Option<Says> + Send + 'static) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap().to_string();
        let heard = Arc::new(Mutex::new(Vec::new()));
        let keeps = Arc::clone(&heard);
        std::thread::spawn(move || {
            let (mut stream, _) = listener.accept().unwrap();
            let (mut line, mut byte) = (String::new(), [0]);
            while stream.read_exact(&mut byte).is_ok() {
                if byte != *b"\r" {
                    line.push(char::from(byte[0]));
                    continue;
                }
                let line = std::mem::take(&mut line);
                keeps.lock().unwrap().push(line.clone());
                let Some(text) = differs(&line).unwrap_or_else(|| Some(usual(&line))) else {
                    return;
                };
                if stream.write_all(format!("{text}\r\r>").as_bytes()).is_err() {
                    return;
                }
            }
        });
        Self { address, heard }
    }

    /// How many requests to clear came (service 04).
    fn clearings(&self) -> usize {
        let heard = self.heard.lock().unwrap();
        heard.iter().filter(|line| line.starts_with("04")).count()
    }

    fn arguments<'a>(&'a self, more: &[&'a str]) -> Vec<&'a str> {
        [&["codes", "--clear", "--tcp", &self.address], more].concat()
    }
}

/// A car on CAN with the ignition on, the engine standing, and P0303 stored and permanent. Two controllers.
fn usual(line: &str) -> String {
    if line.starts_with("AT") {
        return match line {
            "ATZ" | "ATI" => "PLAYED ADAPTER V1".to_owned(),
            "ATRV" => "12.4V".to_owned(),
            "ATDPN" => "6".to_owned(),
            _ => "OK".to_owned(),
        };
    }
    let request = hex::decode(&line[..line.len() / 2 * 2]).unwrap();
    let answer: &[u8] = match *request.as_slice() {
        // 01, 06, 07, 0C (SAE J1979: the highest bit is the first item)
        [0x01, 0x00] => &[0x41, 0x00, 0x86, 0x10, 0, 0],
        [0x01, 0x01] => &[0x41, 0x01, 0x81, 0x07, 0x65, 0x00],
        [0x01, 0x06] => &[0x41, 0x06, 0x80],
        // 9C is +21.9 %
        [0x01, 0x07] => &[0x41, 0x07, 0x9C],
        [0x01, 0x0C] => &[0x41, 0x0C, 0, 0],
        [0x02, 0x02, 0x00] => &[0x42, 0x02, 0x00, 0x03, 0x03],
        [0x02, 0x0C, 0x00] => &[0x42, 0x0C, 0x00, 0x0B, 0xB8],
        [0x03] => &[0x43, 0x01, 0x03, 0x03],
        [0x04] => return format!("{}\r{}", can(0x7E8, &[0x44]), can(0x7E9, &[0x44])),
        [0x07] => &[0x47, 0x00],
        [0x0A] => &[0x4A, 0x01, 0x03, 0x03],
        _ => return "NO DATA".to_owned(),
    };
    match *request.as_slice() {
        [0x01, 0x00] => format!(
            "{}\r{}",
            can(0x7E8, answer),
            can(0x7E9, &[0x41, 0x00, 0x80, 0, 0, 0])
        ),
        _ => can(0x7E8, answer),
    }
}

/// A single CAN frame (ISO 15765-2): length, data.
fn can(from: u16, data: &[u8]) -> String {
    format!("{from:03X}{:02X}{}", data.len(), hex::encode(data))
}

/// Fails as it must: exit 1 and one line, which is given.
fn failure(bench: &Workbench, arguments: &[&str]) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let text = String::from_utf8(output.stderr).unwrap();
    let mut lines = text.lines().filter(|line| line.starts_with("pintle: "));
    let line = lines.next().unwrap().to_owned();
    assert_eq!(lines.next(), None, "{text}");
    line
}

/// Requests of the answered rows.
fn answered(capture: &Path) -> Vec<String> {
    let mut reader = Reader::open(capture).unwrap();
    let mut requests = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        if row.kind == Kind::Data {
            requests.push(row.request.to_owned());
        }
    }
    assert!(reader.damage().is_none());
    requests
}

fn is_empty(bench: &Workbench) -> bool {
    std::fs::read_dir(bench.path()).unwrap().count() == 0
}

#[test]
fn one_request_clears_after_the_file_is_complete() {
    let bench = Workbench::new();
    let path = bench.path().join("mine.capture.csv");
    let (seen, at_clearing) = std::sync::mpsc::channel();
    let file = path.clone();
    let mut cleared = false;
    let played = Played::new(move |line| {
        if line == "04" {
            cleared = true;
            seen.send(answered(&file)).unwrap();
        }
        (cleared && line == "03").then(|| Some(can(0x7E8, &[0x43, 0x00])))
    });
    let more = ["--yes", "--json", "--out", "mine.capture.csv"];
    let output = bench.pintle(played.arguments(&more)).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    assert_eq!(played.clearings(), 1);
    let saved = at_clearing.recv().unwrap();
    for request in [
        "03", "07", "0A", "0101", "020200", "020C00", "0106", "0107", "010C",
    ] {
        assert!(
            saved.iter().any(|saved| saved == request),
            "{request}: {saved:?}"
        );
    }
    assert_eq!(answered(&path), saved);
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["schema"], "pintle.clear/1");
    assert_eq!(report["outcome"], "cleared");
    assert_eq!(report["saved"], "mine.capture.csv");
    assert_eq!(report["accepted"], serde_json::json!(["7E8", "7E9"]));
    assert_eq!(report["before"]["stored"][0]["code"], "P0303");
    assert_eq!(report["after"]["stored"], serde_json::json!([]));
    assert_eq!(report["after"]["permanent"][0]["code"], "P0303");
    assert_eq!(
        report["restarts_from_zero"],
        serde_json::json!(["long_term_trims", "misfire_counters", "readiness"])
    );
}

#[test]
fn in_a_job_what_was_saved_stands_on_neither_side() {
    let bench = Workbench::new();
    bench.pintle(["job", "new", "visit"]).assert().success();
    let played = Played::new(|_| None);
    let output = bench
        .pintle(played.arguments(&["--yes", "--json", "--job", "visit"]))
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    let saved = report["saved"].as_str().unwrap();
    assert!(saved.starts_with("visit/captures/clearing-"), "{saved}");
    assert!(bench.path().join(saved).is_file());
    let mut findings = std::fs::read_dir(bench.path().join("visit/findings")).unwrap();
    let filed = std::fs::read_to_string(findings.next().unwrap().unwrap().path()).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&filed).unwrap(), report);
    let shown = bench
        .pintle(["job", "show", "visit", "--json"])
        .output()
        .unwrap();
    let shown: Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert_eq!(shown["captures_before"], 0);
}

#[test]
fn the_text_tells_what_stays_and_how_long_to_wait_before_comparing() {
    let bench = Workbench::new();
    let played = Played::new(|_| None);
    let output = bench.pintle(played.arguments(&["--yes"])).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    for words in [
        "cleared by the engine controller (7E8) and the transmission controller (7E9)",
        "before-clearing-",
        "Permanent codes stay",
        "start from zero",
        "quarter of an hour",
        "2 minutes or more",
        "60 engine minutes",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

#[test]
fn where_there_is_no_code_it_is_said_that_there_is_nothing_to_clear() {
    for (answer, clearings) in [("no\n", 0), ("yes\n", 1)] {
        let bench = Workbench::new();
        let played = Played::new(|line| match line {
            "03" => Some(Some(can(0x7E8, &[0x43, 0x00]))),
            "020200" => Some(Some("NO DATA".to_owned())),
            _ => None,
        });
        let output = bench.typed(&played.arguments(&[]), answer);
        assert_eq!(played.clearings(), clearings);
        let asked = String::from_utf8(output.stderr).unwrap();
        assert!(asked.contains("There is nothing to clear"), "{asked}");
        assert!(asked.contains("would only reset"), "{asked}");
    }
}

#[test]
fn without_a_terminal_and_without_yes_nobody_is_even_connected() {
    let bench = Workbench::new();
    let played = Played::new(|_| None);
    let line = failure(&bench, &played.arguments(&[]));
    assert!(line.contains("--yes"), "{line}");
    assert!(played.heard.lock().unwrap().is_empty() && is_empty(&bench));
}

#[test]
fn a_running_engine_is_reported_by_its_speed_or_by_the_charging_voltage() {
    // 0C80 is 800 rpm (SAE J1979: quarters)
    for (differs, words) in [
        (("010C", "7E804410C0C80"), "800 rpm"),
        (("010C", "NO DATA"), "14.1 V"),
    ] {
        let bench = Workbench::new();
        let played = Played::new(move |line| match line {
            "ATRV" => Some(Some("14.1V".to_owned())),
            line if line == differs.0 => Some(Some(differs.1.to_owned())),
            _ => None,
        });
        let line = failure(&bench, &played.arguments(&["--yes"]));
        assert!(
            line.contains(words) && line.contains("nothing was cleared"),
            "{line}"
        );
        assert!(line.contains("stop the engine"), "{line}");
        assert!(played.clearings() == 0 && is_empty(&bench));
    }
}

#[test]
fn an_engine_started_while_the_file_was_written_is_noticed() {
    let bench = Workbench::new();
    let mut asked = 0;
    let played = Played::new(move |line| {
        asked += u32::from(line == "010C");
        // standing for the first check and for the reading that is saved
        (line == "010C" && asked > 2).then(|| Some("7E804410C0C80".to_owned()))
    });
    let line = failure(&bench, &played.arguments(&["--yes"]));
    assert!(line.contains("800 rpm"), "{line}");
    assert_eq!(played.clearings(), 0);
}

#[test]
fn nothing_is_cleared_that_could_not_be_read_or_saved() {
    let bench = Workbench::new();
    bench.file("mine.capture.csv", "mine");
    for (out, words) in [
        ("mine.capture.csv", "already exists"),
        ("no-such-folder/a.capture.csv", "a.capture.csv"),
    ] {
        let played = Played::new(|_| None);
        let line = failure(&bench, &played.arguments(&["--yes", "--out", out]));
        assert!(
            line.contains(words) && line.contains("nothing was cleared"),
            "{line}"
        );
        assert_eq!(played.clearings(), 0);
    }
    assert_eq!(
        std::fs::read_to_string(bench.path().join("mine.capture.csv")).unwrap(),
        "mine"
    );
    for request in ["03", "07", "0107", "0101"] {
        let bench = Workbench::new();
        // too short for the length that it names
        let played = Played::new(move |line| (line == request).then(|| Some("7E8064".to_owned())));
        let line = failure(&bench, &played.arguments(&["--yes"]));
        assert!(line.contains(&format!("({request}: damaged")), "{line}");
        assert!(played.clearings() == 0 && is_empty(&bench));
    }
}

#[test]
fn a_refusal_names_the_controller_and_what_to_do() {
    let refused = can(0x7E8, &[0x7F, 0x04, 0x22]);
    let partly = format!("{refused}\r{}", can(0x7E9, &[0x44]));
    for (answer, outcome, words) in [
        (refused, "refused", "nothing was cleared"),
        (partly, "partly", "some controllers have cleared"),
    ] {
        let bench = Workbench::new();
        let played = Played::new(move |line| (line == "04").then(|| Some(answer.clone())));
        let output = bench
            .pintle(played.arguments(&["--yes", "--json"]))
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(1));
        let line = String::from_utf8(output.stderr).unwrap();
        assert!(line.contains(words), "{line}");
        assert!(
            line.contains("engine controller (7E8): conditions not right now (negative answer 22)"),
            "{line}"
        );
        assert!(
            line.contains("turn the ignition off") && line.contains("before-clearing-"),
            "{line}"
        );
        let report: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(report["outcome"], outcome);
        assert_eq!(report["refused"][0]["code"], "22");
        assert_eq!(played.clearings(), 1);
    }
}

#[test]
fn an_adapter_lost_after_sending_leaves_it_open_and_is_never_asked_twice() {
    let bench = Workbench::new();
    let played = Played::new(|line| (line == "04").then_some(None));
    let line = failure(&bench, &played.arguments(&["--yes"]));
    assert!(line.contains("not known whether"), "{line}");
    assert!(
        line.contains("pintle probe") && line.contains("before-clearing-"),
        "{line}"
    );
    assert_eq!(played.clearings(), 1);
}

#[test]
fn an_answer_that_was_damaged_is_decided_by_the_codes_that_are_left() {
    for (left, outcome) in [
        (&[0x43, 0x00][..], "cleared"),
        (&[0x43, 1, 3, 3], "not_known"),
    ] {
        let bench = Workbench::new();
        let mut sent = false;
        let played = Played::new(move |line| {
            sent |= line == "04";
            match line {
                "04" => Some(Some("<DATA ERROR".to_owned())),
                "03" if sent => Some(Some(can(0x7E8, left))),
                _ => None,
            }
        });
        let output = bench
            .pintle(played.arguments(&["--yes", "--json"]))
            .output()
            .unwrap();
        let report: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(report["outcome"], outcome);
        assert_eq!(output.status.success(), outcome == "cleared");
        assert_eq!(played.clearings(), 1);
    }
}

#[cfg(unix)]
#[test]
fn on_a_terminal_only_yes_clears() {
    for (answer, cleared) in [("yes\n", true), ("y\n", false), ("\n", false)] {
        let bench = Workbench::new();
        let played = Played::new(|_| None);
        let output = bench.typed(&played.arguments(&[]), answer);
        assert_eq!(output.status.success(), cleared, "{output:?}");
        assert_eq!(played.clearings(), usize::from(cleared));
        assert_eq!(is_empty(&bench), !cleared);
        let asked = String::from_utf8(output.stderr).unwrap();
        for words in ["P0303", "erases", "Record the fault first", "Type yes"] {
            assert!(asked.contains(words), "{words}: {asked}");
        }
    }
}
