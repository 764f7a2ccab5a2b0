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

fn compared(bench: &Workbench, before: &str, after: &str) -> Value {
    let arguments = ["compare", "--json", "--before", before, "--after", after];
    let output = bench.pintle(arguments).assert().success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

fn hangs_on_fuel(found: &Value) -> bool {
    let warnings = found["warnings"].as_array().unwrap().iter();
    let mut words = warnings.map(|warning| warning.as_str().unwrap());
    words.any(|words| words.contains("hangs on the fuel") && words.contains("refuelled"))
}

#[test]
fn a_verdict_that_hangs_on_the_fuel_is_warned_of_beside_it() {
    let bench = Workbench::new();
    let before = idle(&bench, "before", 9.0, ("", ""));
    let after = idle(&bench, "after", 1.0, ("", ""));
    let found = compared(&bench, &before, &after);
    assert_eq!(found["verdict"], "better");
    let sentence = found["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("unless another fuel was filled in"),
        "{sentence}"
    );
    assert!(hangs_on_fuel(&found), "{}", found["warnings"]);
}

/// Ten minutes after the first log by the car's own clock 5 points at most can have been filled in, and the gauge swings by 8.
#[test]
fn a_tank_known_to_be_the_same_is_not_warned_of() {
    let bench = Workbench::new();
    let heading = ",Fuel %,Minutes since clear";
    let before = idle(&bench, "before", 9.0, (heading, ",50,1000"));
    let after = idle(&bench, "after", 1.0, (heading, ",48,1020"));
    let found = compared(&bench, &before, &after);
    assert_eq!(found["verdict"], "better");
    assert!(!hangs_on_fuel(&found), "{}", found["warnings"]);
}
