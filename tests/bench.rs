//! Bench readings through the binary.

use serde_json::Value;

use crate::harness::Workbench;

/// The balance example of two factory pages: drops from 379 kPa to 280, 310, 340, 317; cylinder 5 has an open coil.
const FORM: &str = "coil_temperature_c = 20\ngauge_step_kpa = 1\n\n[rail]\npressure_kpa = 379\n\n\
    [[injector]]\ncylinder = 1\nohms = 14.2\ndrop_kpa = 99\n\n\
    [[injector]]\ncylinder = 2\ndrop_kpa = 69\n\n\
    [[injector]]\ncylinder = 3\nohms = 14.0\ndrop_kpa = 39\n\n\
    [[injector]]\ncylinder = 4\ndrop_kpa = 62\n\n\
    [[injector]]\ncylinder = 5\nohms = inf\n";

#[test]
fn a_filled_form_is_judged_for_people_and_for_programs() {
    let bench = Workbench::new();
    bench.file("readings.toml", FORM);
    let output = bench
        .pintle(["bench", "readings.toml", "--json"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["schema"], "pintle.bench/1");
    let each = |key: &str| -> Vec<Value> {
        let injectors = found["injectors"].as_array().unwrap().iter();
        injectors.map(|injector| injector[key].clone()).collect()
    };
    assert_eq!(
        each("flow"),
        ["excess", "ok", "restricted", "ok", "unknown"]
    );
    assert_eq!(
        each("electrical"),
        ["ok", "unknown", "ok", "unknown", "open"]
    );
    assert_eq!(found["injectors"][4]["ohms_at_20c"], Value::Null);
    assert_eq!(found["pressure"]["pressure_kpa"], 379.0);

    let said = bench
        .pintle(["bench", "readings.toml"])
        .output()
        .unwrap()
        .stdout;
    let said = String::from_utf8(said).unwrap();
    assert!(
        said.contains("Electrically dead: cylinder 5. Cleaning cannot help"),
        "{said}"
    );
}

#[test]
fn a_new_form_is_made_for_the_vehicle_and_never_over_an_old_one() {
    let bench = Workbench::new();
    bench.file("van.toml", "cylinders = 3\n");
    let arguments = ["bench", "--new", "form.toml", "--vehicle", "van.toml"];
    bench.pintle(arguments).assert().success();
    bench.pintle(["bench", "form.toml"]).assert().success();
    bench.pintle(arguments).assert().code(1);
    bench.pintle(["bench"]).assert().code(2);
}

#[test]
fn a_mistake_is_one_line_with_its_place() {
    let bench = Workbench::new();
    bench.file(
        "readings.toml",
        "[[injector]]\ncylinder = 1\ndrop_kpa = -5\n",
    );
    let output = bench.pintle(["bench", "readings.toml"]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8(output.stderr).unwrap();
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(
        told.contains("readings.toml: line 3, column 12: drop_kpa = -5"),
        "{told}"
    );
}
