//! Importing other loggers' tables.

use std::collections::BTreeMap;

use serde_json::Value;

use super::harness::{Workbench, real_logs};

/// The value rows of a capture, by request: time in µs and value.
fn readings(capture: &str) -> BTreeMap<String, Vec<(u64, f64)>> {
    let mut found: BTreeMap<String, Vec<(u64, f64)>> = BTreeMap::new();
    for line in capture.lines().skip(3) {
        let fields: Vec<&str> = line.split(',').collect();
        let [t_us, "value", "", request, value] = fields[..] else {
            panic!("{line}");
        };
        let reading = (t_us.parse().unwrap(), value.parse().unwrap());
        found.entry(request.to_owned()).or_default().push(reading);
    }
    found
}

/// Imports a table and gives its readings and what standard output says.
fn import(table: &str, map: Option<&str>) -> (BTreeMap<String, Vec<(u64, f64)>>, String) {
    let bench = Workbench::new();
    bench.file("table.csv", table);
    let mut arguments = vec!["import", "table.csv", "--out", "out.capture.csv"];
    if let Some(map) = map {
        bench.file("map.toml", map);
        arguments.extend(["--columns", "map.toml"]);
    }
    let output = bench
        .pintle(arguments)
        .assert()
        .success()
        .get_output()
        .clone();
    let capture = std::fs::read_to_string(bench.path().join("out.capture.csv")).unwrap();
    assert!(
        output.stderr.is_empty(),
        "remarks: {:?}",
        String::from_utf8_lossy(&output.stderr)
    );
    (
        readings(&capture),
        String::from_utf8(output.stdout).unwrap(),
    )
}

/// The one line that a refused import says.
fn refusal(table: impl AsRef<[u8]>, map: Option<&str>) -> String {
    let bench = Workbench::new();
    bench.file("table.csv", table);
    let mut arguments = vec!["import", "table.csv"];
    if let Some(map) = map {
        bench.file("map.toml", map);
        arguments.extend(["--columns", "map.toml"]);
    }
    let output = bench
        .pintle(arguments)
        .assert()
        .code(1)
        .get_output()
        .clone();
    assert!(!bench.path().join("table.capture.csv").exists());
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(said.lines().count(), 1, "{said}");
    said
}

#[test]
fn a_table_of_a_european_spreadsheet_is_read() {
    let table = "\u{FEFF}Zeit (s);Engine RPM;STFT B1 (%);Coolant (\u{b0}F);Notes;\r\n\
        0,0;800;-1,5;212;start;\r\n0,5;\"810\";NA;;;\r\n1,0;820,5;2\r\n";
    let map = "time = { column = \"Zeit (s)\", unit = \"s\" }\n[columns]\n\"Engine RPM\" = \"010C\"\n\
        \"STFT B1 (%)\" = \"0106\"\n\"Coolant (\u{b0}F)\" = { request = \"0105\", unit = \"degF\" }\n";
    let (found, said) = import(table, Some(map));
    assert_eq!(
        found["010C"],
        [(0, 800.0), (500_000, 810.0), (1_000_000, 820.5)]
    );
    assert_eq!(found["0106"], [(0, -1.5), (1_000_000, 2.0)]);
    assert_eq!(found["0105"], [(0, 100.0)]);
    assert!(said.contains("Notes"), "{said}");
}

#[test]
fn headers_are_understood_by_their_words_and_latin_1_is_read() {
    let table = b"Time (ms),Engine RPM,Speed (mph),ECT (\xb0F),Speed (mph),Boost\n\
        1000,800,0,212,0,3\n1250,805,60,212,60,3\n";
    let bench = Workbench::new();
    bench.file("drive.csv", table);
    let output = bench
        .pintle(["import", "drive.csv", "--json"])
        .assert()
        .success();
    let outcome: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    assert_eq!(outcome["schema"], "pintle.import/1");
    let requests: Vec<&str> = outcome["matched"]
        .as_array()
        .unwrap()
        .iter()
        .map(|column| column["request"].as_str().unwrap())
        .collect();
    assert_eq!(requests, ["010C", "010D", "0105"]);
    assert_eq!(outcome["left_out"].as_array().unwrap().len(), 2);
    let capture = std::fs::read_to_string(bench.path().join("drive.capture.csv")).unwrap();
    let found = readings(&capture);
    assert_eq!(found["010C"], [(0, 800.0), (250_000, 805.0)]);
    // 60 miles of 1.609344 km.
    assert!((found["010D"][1].1 - 96.560_64).abs() < 1e-9);
    assert!((found["0105"][0].1 - 100.0).abs() < 1e-9);
}

#[test]
fn a_long_table_is_read_by_its_map() {
    let table = "when,what,how much\n2026-11-25T08:00:00Z,rpm,800\n2026-11-25T08:00:00.5Z,trim,1.5\n\
        2026-11-25T08:00:01Z,other,9\n2026-11-25T08:00:02Z,rpm,900\n";
    let map = "shape = \"long\"\nname_column = \"what\"\nvalue_column = \"how much\"\n\
        time = { column = \"when\", unit = \"rfc3339\" }\n[columns]\nrpm = \"010C\"\ntrim = \"0106\"\n";
    let (found, _) = import(table, Some(map));
    assert_eq!(found["010C"], [(0, 800.0), (2_000_000, 900.0)]);
    assert_eq!(found["0106"], [(500_000, 1.5)]);
}

#[test]
fn a_line_cut_in_mid_number_gives_only_its_whole_fields() {
    let (found, said) = import("time (s),rpm,STFT1\n0,800,1.5\n1,900,2.5\n2,10", None);
    assert_eq!(found["010C"].len(), 2);
    assert!(said.contains("cut"), "{said}");
    // A last line with all its fields is whole, with or without a line end.
    let (found, _) = import("time (s),rpm\n0,800\n1,900", None);
    assert_eq!(found["010C"].len(), 2);
}

#[test]
fn what_cannot_be_imported_is_refused_in_one_line_with_the_next_step() {
    for (table, map, says) in [
        ("", None, "no row with a reading"),
        ("time (s),rpm\n", None, "no row with a reading"),
        ("rpm,STFT1\n800,1\n900,2\n", None, "rows_per_second"),
        (
            "time,rpm\n0,800\n60000,900\n120000,900\n",
            None,
            "does not say its unit",
        ),
        ("alpha,beta\n1,2\n", None, "--columns"),
        (
            "# capture 1\n# {}\nt_us,kind,ecu,request,response\n",
            None,
            "already is a capture",
        ),
        (
            "time (s),rpm\n0,800\n",
            Some("[columns]\n\"RPM2\" = \"010C\"\n"),
            "\"RPM2\"",
        ),
        (
            "time (s),rpm\n0,800\n",
            Some("[columns]\nrpm = \"02\"\n"),
            "rpm",
        ),
    ] {
        let said = refusal(table, map);
        assert!(said.contains(says), "{table:?}: {said}");
    }
    let said = refusal(b"PK\x03\x04\0\0\0\0", None);
    assert!(said.contains("not a text table"), "{said}");
}

#[test]
fn an_existing_capture_is_never_overwritten() {
    let bench = Workbench::new();
    bench.file("drive.csv", "time (s),rpm\n0,800\n1,900\n");
    bench.file("drive.capture.csv", "precious");
    let output = bench
        .pintle(["import", "drive.csv"])
        .assert()
        .code(1)
        .get_output()
        .clone();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("drive.capture.csv") && said.contains("never overwritten"),
        "{said}"
    );
    let kept = std::fs::read_to_string(bench.path().join("drive.capture.csv")).unwrap();
    assert_eq!(kept, "precious");
}

/// Minutes as the notes beside the logs give them (from row count and measured row time), readings from the measured
/// round of 1.81 s.
#[test]
fn the_real_logs_are_timed_and_counted_as_measured() {
    let Some(folder) = real_logs() else {
        return;
    };
    for (name, minutes) in [
        ("idle1", 9.9),
        ("idle29", 23.0),
        ("drive2", 19.0),
        ("drive4", 36.0),
        ("drive10", 44.7),
        ("live13", 19.8),
        ("live28", 15.2),
        ("long2", 61.6),
        ("long7", 49.7),
        ("ufpe4", 11.1),
        ("ufpe10", 22.0),
    ] {
        let bench = Workbench::new();
        let file = folder.join(format!("{name}.csv"));
        let arguments = [
            "import",
            file.to_str().unwrap(),
            "--out",
            "x.capture.csv",
            "--json",
        ];
        let output = bench.pintle(arguments).assert().success();
        let outcome: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
        let seconds = outcome["seconds"].as_f64().unwrap();
        assert!(
            (seconds / 60.0 - minutes).abs() < 0.15,
            "{name}: {seconds} s"
        );
        let round = outcome["new_readings_every_s"].as_f64().unwrap();
        assert!((round - 1.81).abs() < 0.02, "{name}: {round}");
        let columns = outcome["matched"].as_array().unwrap();
        assert_eq!(columns.len(), 27, "{name}");
        for column in columns {
            let readings = column["readings"].as_f64().unwrap();
            assert!(
                (readings * 1.81 / seconds - 1.0).abs() < 0.02,
                "{name}: {column}"
            );
        }
    }
}

#[test]
fn every_distinct_reading_of_a_real_log_is_kept() {
    let Some(folder) = real_logs() else {
        return;
    };
    let table = std::fs::read_to_string(folder.join("drive2.csv")).unwrap();
    let column = |number: usize| -> Vec<f64> {
        let lines = table.lines().skip(1).filter(|line| !line.trim().is_empty());
        let mut values: Vec<f64> = lines
            .map(|line| line.split(',').nth(number).unwrap().trim().parse().unwrap())
            .collect();
        values.dedup();
        values
    };
    let (found, said) = import(&table, None);
    assert!(
        said.contains("2.03 rows/s, from the run time column"),
        "{said}"
    );
    assert!(
        said.contains("a new reading every 1.8 s; repeated rows are not counted"),
        "{said}"
    );
    for (request, number) in [
        ("011F", 0),
        ("010C", 1),
        ("0107", 6),
        ("0106", 7),
        ("010B", 8),
    ] {
        let mut values: Vec<f64> = found[request].iter().map(|(_, value)| *value).collect();
        values.dedup();
        assert_eq!(values, column(number), "{request}");
    }
}

/// Twenty seconds a row: an idle at 900 rpm, in which cylinder 2 misfires twice a row, is 300 revolutions a row.
#[test]
fn misfires_are_counted_though_a_logger_writes_a_row_only_every_twenty_seconds() {
    let bench = Workbench::new();
    let mut table =
        String::from("RPM,Load %,Coolant C,STFT B1 %,LTFT B1 %,Speed km/h,misfires 2\n");
    for row in 0..150 {
        table.push_str(&format!("900,28,90,0.8,2.3,0,{}\n", 2 * row));
    }
    bench.file("slow.csv", table);
    bench.file(
        "map.toml",
        "rows_per_second = 0.05\n[columns]\n\"RPM\" = \"010C\"\n\"Load %\" = \"0104\"\n\"Coolant C\" = \"0105\"\n\
         \"STFT B1 %\" = \"0106\"\n\"LTFT B1 %\" = \"0107\"\n\"Speed km/h\" = \"010D\"\n\"misfires 2\" = \"06A30C\"\n",
    );
    let import = [
        "import",
        "slow.csv",
        "--columns",
        "map.toml",
        "--out",
        "slow.capture.csv",
    ];
    bench.pintle(import).assert().success();
    let diagnose = ["diagnose", "--json", "slow.capture.csv"];
    let output = bench.pintle(diagnose).assert().success();
    let found: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    let misfires = &found["misfires"];
    // how often it writes is known after five rows
    let revolutions = misfires["revolutions"].as_f64().unwrap();
    assert!(
        (144.0 * 300.0..150.0 * 300.0).contains(&revolutions),
        "{misfires}"
    );
    let second = &misfires["cylinders"][0];
    assert_eq!(second["cylinder"], 2);
    let per_1000_rev = second["per_1000_rev"].as_f64().unwrap();
    assert!((per_1000_rev - 2000.0 / 300.0).abs() < 0.05, "{misfires}");
}
