//! `compare` as a program calls it that reads the verdict and the warnings alone.

use serde_json::Value;

use crate::harness::Workbench;

/// Imports ten minutes of an even idle, a reading a second; `more` follows each row's trims, as its heading says.
fn idle(bench: &Workbench, name: &str, long_pct: f64, more: (&str, &str)) -> String {
    let (heading, value) = more;
    let mut table = format!("RPM,Load %,Coolant C,STFT B1 %,LTFT B1 %,Speed km/h{heading}\n");
    for second in 0..600 {
        let rpm = 750 + second % 7;
        let short = if second % 4 < 2 { 0.8 } else { -0.8 };
        table.push_str(&format!("{rpm},28.2,90,{short},{long_pct},0{value}\n"));
    }
    bench.file(&format!("{name}.csv"), table);
    let columns = "rows_per_second = 1.0\n[columns]\n\"RPM\" = \"010C\"\n\"Load %\" = \"0104\"\n\"Coolant C\" = \"0105\"\n\
         \"STFT B1 %\" = \"0106\"\n\"LTFT B1 %\" = \"0107\"\n\"Speed km/h\" = \"010D\"\n";
    let tank = match heading {
        "" => "",
        _ => "\"Fuel %\" = \"012F\"\n\"Minutes since clear\" = \"014E\"\n",
    };
    bench.file("map.toml", format!("{columns}{tank}"));
    let (table, capture) = (format!("{name}.csv"), format!("{name}.capture.csv"));
    let import = ["import", &table, "--columns", "map.toml", "--out", &capture];
    bench.pintle(import).assert().success();
    capture
}

fn compared(bench: &Workbench, before: &str, after: &str, more: &[&str]) -> Value {
    let sides = ["compare", "--json", "--before", before, "--after", after];
    let arguments = [&sides[..], more].concat();
    let output = bench.pintle(arguments).assert().success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

#[test]
fn a_verdict_that_depends_on_the_fuel_is_none_until_somebody_answers() {
    let bench = Workbench::new();
    let before = idle(&bench, "before", 9.0, ("", ""));
    let after = idle(&bench, "after", 1.0, ("", ""));
    let open = compared(&bench, &before, &after, &[]);
    assert_eq!(open["verdict"], "cannot_tell");
    assert_eq!(open["depends_on"], "fuel");
    assert_eq!(open["if_same_fuel"], "better");
    assert_eq!(open["trims"][0]["verdict"], "cannot_tell");
    let sentence = open["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("better if the fuel is the same"),
        "{sentence}"
    );
    let warnings = open["warnings"].to_string();
    assert!(warnings.contains("--fuel same"), "{warnings}");
    let same = compared(&bench, &before, &after, &["--fuel", "same"]);
    assert_eq!(same["verdict"], "better");
    assert_eq!(
        (&same["depends_on"], &same["if_same_fuel"]),
        (&Value::Null, &Value::Null)
    );
    let changed = compared(&bench, &before, &after, &["--fuel", "changed"]);
    assert_eq!(changed["verdict"], "cannot_tell");
    assert_eq!(changed["depends_on"], Value::Null);
    let sentence = changed["sentence"].as_str().unwrap();
    assert!(
        sentence.starts_with("Cannot tell: the fuel changed"),
        "{sentence}"
    );
    bench
        .pintle([
            "compare", "--before", &before, "--after", &after, "--fuel", "e85",
        ])
        .assert()
        .code(2);
}

/// The job asks, and remembers the answer for the page and for the next comparison.
#[test]
fn a_job_asks_for_the_fuel_and_remembers_the_answer() {
    let bench = Workbench::new();
    let run = |arguments: &[&str]| {
        let output = bench.pintle(arguments).assert().success();
        String::from_utf8(output.get_output().stdout.clone()).unwrap()
    };
    run(&[
        "job",
        "new",
        "visit",
        "--label",
        "van 3",
        "--complaint",
        "shakes",
        "--mileage",
        "1km",
    ]);
    for (side, trim) in [("before", 9.0), ("after", 1.0)] {
        let capture = idle(&bench, side, trim, ("", ""));
        let filed = bench
            .path()
            .join(format!("visit/captures/{side}-2026-11-25.capture.csv"));
        std::fs::rename(bench.path().join(capture), filed).unwrap();
    }
    let compare = ["compare", "--job", "visit", "--json"];
    let verdict = |said: String| serde_json::from_str::<Value>(&said).unwrap()["verdict"].clone();
    assert_eq!(verdict(run(&compare)), "cannot_tell");
    let asked = run(&["job", "show", "visit"]);
    assert!(
        asked.contains("question: ") && asked.contains("--fuel same"),
        "{asked}"
    );
    let page = run(&["report", "visit"]);
    let page = std::fs::read_to_string(bench.path().join(page.trim())).unwrap();
    assert!(page.contains("if the fuel is the same"));
    assert_eq!(
        verdict(run(&[&compare[..], &["--fuel", "same"]].concat())),
        "better"
    );
    assert_eq!(verdict(run(&compare)), "better", "remembered");
    assert!(!run(&["job", "show", "visit"]).contains("question: "));
    let page = run(&["report", "visit"]);
    let page = std::fs::read_to_string(bench.path().join(page.trim())).unwrap();
    assert!(!page.contains("if the fuel is the same"));
}

/// Ten minutes after the first log by the car's own clock 5 points at most can have been filled in, and the gauge swings by 8.
#[test]
fn a_tank_known_to_be_the_same_is_not_warned_of() {
    let bench = Workbench::new();
    let heading = ",Fuel %,Minutes since clear";
    let before = idle(&bench, "before", 9.0, (heading, ",50,1000"));
    let after = idle(&bench, "after", 1.0, (heading, ",48,1020"));
    let found = compared(&bench, &before, &after, &[]);
    assert_eq!(found["verdict"], "better");
    assert_eq!(found["depends_on"], Value::Null, "{}", found["warnings"]);
}
