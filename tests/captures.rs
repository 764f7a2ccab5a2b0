//! Looking into captures and taking their data out.

use std::io::Write;

use flate2::{Compression, write::GzEncoder};
use serde_json::Value;

use super::harness::Workbench;

const CAPTURE: &str = "# capture 1\n# {\"started\":\"2026-11-25T08:00:00Z\",\"vehicle\":{\"label\":\"van 3\"}}\n\
    t_us,kind,ecu,request,response\n\
    0,mark,,,\"starts, cold\"\n\
    100000,data,7E8,010C0607,410C0BB806800784\n\
    300000,data,7E8,0103,41030200\n\
    400000,data,7E8,06A2,46A20B24000500 00FFFF\n\
    500000,data,7E8,06A2,46A20B240005000000FFA20C24000000000000\n\
    600000,data,7E8,07,47010301\n\
    700000,data,7E9,01FE,41FE0102\n\
    800000,none,7E8,0162,NO DATA\n\
    900000,link,,,lost: device disconnected\n\
    8900000,value,,0105,88.5\n\
    9000000,mark,,,torn";

fn stdout(bench: &Workbench, arguments: &[&str]) -> String {
    let output = bench
        .pintle(arguments)
        .assert()
        .success()
        .get_output()
        .clone();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn inspect_tells_items_gaps_marks_and_damage() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    let said = stdout(&bench, &["inspect", "a.capture.csv"]);
    for words in [
        "van 3",
        "starts, cold",
        "lost: device disconnected",
        "8.2 s without an answer",
        "line 7: the response is not hex",
        "ends in the middle of a line",
        "NO DATA",
        "fuel system 1 status",
    ] {
        assert!(said.contains(words), "{words:?} in:\n{said}");
    }
}

#[test]
fn inspect_answers_as_json() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    let said: Value =
        serde_json::from_str(&stdout(&bench, &["inspect", "a.capture.csv", "--json"])).unwrap();
    assert_eq!(said["schema"], "pintle.inspection/1");
    assert_eq!(said["rows"]["data"], 5);
    assert_eq!(said["damage"]["first_bad"][0]["line"], 7);
    assert_eq!(said["damage"]["torn_end"], true);
    assert_eq!(said["gaps"]["first"][0]["to_s"], 8.9);
    let items = said["items"].as_array().unwrap();
    let speed = items.iter().find(|item| item["request"] == "010C").unwrap();
    assert_eq!(
        (&speed["first"], &speed["unit"]),
        (&Value::from(750.0), &Value::from("rpm"))
    );
    // The counter of this trip has not run: it gives no reading.
    assert!(items.iter().any(|item| item["request"] == "06A20B"));
    assert!(items.iter().all(|item| item["request"] != "06A20C"));
}

/// Coding of PIDs 01, 03 and 51 by SAE J1979, Appendix B: 07 65 00 are eight monitors that the car has, all complete.
#[test]
fn inspect_says_what_bits_and_codes_mean() {
    let bench = Workbench::new();
    let rows = "0,data,7E8,0101,410181076504\n\
        1000000,data,7E8,0103,41030100\n\
        2000000,data,7E8,0103,41030204\n\
        2500000,data,7E8,0103,41030200\n\
        3000000,data,7E8,0101,410100076500\n\
        4000000,data,7E8,0151,415104\n\
        5000000,data,7E8,010C,410C0BB8\n";
    bench.file(
        "a.capture.csv",
        format!("# capture 1\n# {{}}\nt_us,kind,ecu,request,response\n{rows}"),
    );
    let said = stdout(&bench, &["inspect", "a.capture.csv"]);
    let flat = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "7E8 0103 fuel system 1 status open loop, not ready yet at the start; closed loop at the end 7E8",
        "fuel system 2 status off at the start and the end; other values in between",
        "7E8 0151 type of fuel diesel",
        "check-engine light on, codes: 1 at the start; check-engine light off, codes: 0 at the end",
        "readiness not complete: evaporative system; complete: misfire, ",
        " at the start; all complete: misfire, ",
    ] {
        assert!(flat.contains(words), "{words:?} in:\n{said}");
    }
    // a number of bits says nothing to a person; a measure stays one
    assert!(!said.contains("484608"), "{said}");
    assert!(said.contains("750 rpm"), "{said}");
    let said = stdout(&bench, &["inspect", "a.capture.csv", "--json"]);
    let said: Value = serde_json::from_str(&said).unwrap();
    let item = |request: &str| {
        let mut items = said["items"].as_array().unwrap().iter().rev();
        items.find(|item| item["request"] == request).unwrap()
    };
    assert_eq!(item("0101")["last"], 484_608.0);
    assert_eq!(item("0151")["last_means"], "diesel");
    assert_eq!(item("0103")["first_means"], "off");
    assert_eq!(item("010C")["first_means"], Value::Null);
}

#[test]
fn a_narrow_terminal_is_respected() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    let output = bench
        .pintle(["inspect", "a.capture.csv"])
        .env("COLUMNS", "72")
        .assert()
        .success();
    let said = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    let table = said
        .lines()
        .skip_while(|line| !line.contains("request"))
        .take_while(|line| !line.is_empty());
    for line in table {
        assert!(line.chars().count() <= 72, "{line}");
    }
}

#[test]
fn the_long_export_has_a_row_a_quantity() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    let said = stdout(&bench, &["export", "a.capture.csv"]);
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines[0], "t_us,ecu,request,name,value,unit,text");
    for line in [
        "100000,7E8,010C,engine speed,750,rpm,",
        "100000,7E8,0107,long term fuel trim bank 1,3.125,%,",
        "300000,7E8,0103,fuel system 1 status,2,,closed loop",
        "500000,7E8,06A20B,\"cylinder 1: misfires, average of the last ten driving cycles\",5,counts,limits 0 to 255",
        "500000,7E8,06A20C,\"cylinder 1: misfires, this driving cycle\",,counts,not run",
        "600000,7E8,07,pending trouble codes,1,,P0301",
        "700000,7E9,01FE,,,,0102",
        "8900000,,0105,coolant temperature,88.5,°C,",
    ] {
        assert!(lines.contains(&line), "{line} in:\n{said}");
    }
}

#[test]
fn the_wide_export_has_a_row_a_step_and_reads_back() {
    let bench = Workbench::new();
    let rows: String = (0..40)
        .map(|n| format!("{},data,7E8,010C,410C{:04X}\n", n * 250_000, 3000 + 4 * n))
        .collect();
    let head = CAPTURE.lines().take(3).collect::<Vec<_>>().join("\n");
    bench.file("a.capture.csv", format!("{head}\n{rows}"));
    let said = stdout(
        &bench,
        &[
            "export",
            "a.capture.csv",
            "--shape",
            "wide",
            "--every",
            "500ms",
        ],
    );
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines[0], "time (s),engine speed (rpm)");
    assert_eq!(lines[1], "0,750");
    assert_eq!(lines[2], "0.5,752");
    bench.file("wide.csv", &said);
    bench.pintle(["import", "wide.csv"]).assert().success();
    let back = std::fs::read_to_string(bench.path().join("wide.capture.csv")).unwrap();
    assert!(back.contains("\n500000,value,,010C,752\n"), "{back}");
}

#[test]
fn the_wide_export_leaves_long_gaps_out_and_says_so() {
    let bench = Workbench::new();
    let head = CAPTURE.lines().take(3).collect::<Vec<_>>().join("\n");
    // a pause of 9·10⁹ s, confirmed by the row after it, then one of an hour with marks in it
    bench.file(
        "a.capture.csv",
        format!(
            "{head}\n0,data,7E8,010C,410C0BB8\n9000000000000000,data,7E8,010C,410C0BB8\n\
             9000000000000000,data,7E8,010C,410C0BBC\n9000001000000000,mark,,,still there\n\
             9000002000000000,mark,,,and on\n9000003600000000,data,7E8,010C,410C0BC0\n"
        ),
    );
    let arguments = ["export", "a.capture.csv", "--shape", "wide"];
    let output = bench.pintle(arguments).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let table = String::from_utf8(output.stdout).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    // ten seconds after each reading are shown, and the end
    assert_eq!(
        lines[1..13],
        [
            "0,750",
            "1,750",
            "2,750",
            "3,750",
            "4,750",
            "5,750",
            "6,750",
            "7,750",
            "8,750",
            "9,750",
            "10,750",
            "9000000000,751"
        ]
    );
    assert_eq!(lines[23..], ["9000003600,752"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("left out 2 gaps without readings, 104167 days in all"),
        "{said}"
    );
    let shorter = stdout(
        &bench,
        &[
            "export",
            "a.capture.csv",
            "--shape",
            "wide",
            "--every",
            "1h",
        ],
    );
    assert_eq!(shorter.lines().count(), 4, "{shorter}");
}

#[test]
fn what_a_spreadsheet_would_run_as_a_formula_is_marked() {
    let bench = Workbench::new();
    let head = CAPTURE.lines().take(3).collect::<Vec<_>>().join("\n");
    let name: String = "=1+1ABCDEFGHJKLM"
        .bytes()
        .map(|byte| format!("{byte:02X}"))
        .collect();
    bench.file(
        "a.capture.csv",
        format!("{head}\n0,data,7E8,0904,490401{name}\n0,value,@SUM(A1),010C,800\n9,value,+x,010C,900\n9,value,,0106,-3.5\n"),
    );
    let long = stdout(&bench, &["export", "a.capture.csv"]);
    for cell in [",'=1+1", ",'@SUM(A1),", ",'+x,", ",-3.5,"] {
        assert!(long.contains(cell), "{cell} in\n{long}");
    }
    let wide = stdout(&bench, &["export", "a.capture.csv", "--shape", "wide"]);
    let headings = wide.lines().next().unwrap();
    for cell in [",'+x engine", ",'@SUM(A1) engine"] {
        assert!(headings.contains(cell), "{headings}");
    }
}

#[test]
fn an_export_never_overwrites() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    bench.file("out.csv", "precious");
    bench
        .pintle(["export", "a.capture.csv", "--out", "out.csv"])
        .assert()
        .code(1);
    assert_eq!(
        std::fs::read_to_string(bench.path().join("out.csv")).unwrap(),
        "precious"
    );
    bench
        .pintle(["export", "a.capture.csv", "--out", "new.csv"])
        .assert()
        .success();
    assert!(bench.path().join("new.csv").exists());
    // A capture that cannot be read leaves no empty result behind.
    bench
        .pintle(["export", "none.capture.csv", "--out", "new2.csv"])
        .assert()
        .code(1);
    assert!(!bench.path().join("new2.csv").exists());
}

#[test]
fn compressed_captures_are_read_by_every_command_even_when_cut() {
    let bench = Workbench::new();
    let (first, second) = CAPTURE.split_at(CAPTURE.find("600000").unwrap());
    let mut bytes = Vec::new();
    for part in [first, second] {
        let mut member = GzEncoder::new(Vec::new(), Compression::new(6));
        member.write_all(part.as_bytes()).unwrap();
        bytes.extend(member.finish().unwrap());
    }
    bench.file("whole.capture.csv.gz", &bytes);
    bench.file("cut.capture.csv.gz", &bytes[..bytes.len() - 40]);
    let whole = stdout(&bench, &["export", "whole.capture.csv.gz"]);
    assert!(whole.contains("P0301"), "{whole}");
    let cut = stdout(&bench, &["inspect", "cut.capture.csv.gz"]);
    assert!(cut.contains("010C") && cut.contains("cut off"), "{cut}");
}

#[test]
fn what_is_no_capture_is_refused_in_one_line_with_the_next_step() {
    let bench = Workbench::new();
    std::fs::create_dir(bench.path().join("folder")).unwrap();
    for (name, content, says) in [
        ("missing", None, "no such file"),
        ("folder", None, "folder"),
        ("empty", Some(&b""[..]), "empty"),
        ("short", Some(b"# capt"), "ends inside the header"),
        ("binary", Some(b"\x7FELF\x02\0\0\0"), "binary"),
        ("later", Some(b"# capture 2\n# {}\n"), "version 2"),
        ("letter", Some(b"Dear all,\n"), "not a capture"),
        ("table", Some(b"time,rpm\n0,800\n"), "pintle import"),
    ] {
        if let Some(content) = content {
            bench.file(name, content);
        }
        for command in ["inspect", "export", "diagnose"] {
            let output = bench
                .pintle([command, name])
                .assert()
                .code(1)
                .get_output()
                .clone();
            let said = String::from_utf8(output.stderr).unwrap();
            assert_eq!(said.lines().count(), 1, "{command} {name}: {said}");
            assert!(
                said.contains(says) && said.contains(name),
                "{command} {name}: {said}"
            );
            assert!(output.stdout.is_empty(), "{command} {name}");
        }
    }
}

#[test]
fn a_reader_that_goes_away_ends_an_export_without_complaint() {
    let stored = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("captures/van3-healthy.capture.csv.gz");
    for shape in ["long", "wide"] {
        let mut exporting = std::process::Command::new(env!("CARGO_BIN_EXE_pintle"))
            .arg("export")
            .arg(&stored)
            .args(["--shape", shape])
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        drop(exporting.stdout.take());
        let output = exporting.wait_with_output().unwrap();
        assert!(output.status.success(), "{shape}");
        assert_eq!(String::from_utf8(output.stderr).unwrap(), "", "{shape}");
    }
}

#[test]
fn a_capture_of_seconds_acquits_nobody_and_its_damage_is_reported() {
    let bench = Workbench::new();
    bench.file("a.capture.csv", CAPTURE);
    let output = bench
        .pintle(["diagnose", "a.capture.csv"])
        .output()
        .unwrap();
    assert!(output.status.success());
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.starts_with("Too little was recorded"), "{said}");
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(
        told.contains("a.capture.csv: skipped damaged lines"),
        "{told}"
    );
}
