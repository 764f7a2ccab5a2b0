//! Forms as people fill them in, with their mistakes.

use proptest::prelude::*;

use super::*;
use crate::vehicle::{Injection, Vehicle};

fn four() -> Vehicle {
    Vehicle {
        cylinders: Some(4),
        ..Vehicle::default()
    }
}

fn read(text: &str) -> Readings {
    Readings::from_toml(text, &four()).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn mistake(text: &str) -> String {
    mistake_of(text, &four())
}

fn mistake_of(text: &str, vehicle: &Vehicle) -> String {
    let error = Readings::from_toml(text, vehicle).unwrap_err();
    error.to_string()
}

#[test]
fn an_empty_form_can_be_read_and_every_entry_filled_in() {
    let vehicle = Vehicle {
        cylinders: Some(6),
        ..Vehicle::default()
    };
    let form = empty_form(&vehicle);
    let empty = Readings::from_toml(&form, &vehicle).unwrap();
    assert_eq!(empty.injectors.len(), 6);
    // take away the marks of all entries, and what excludes another (drop, or start and end)
    let filled: String = form
        .lines()
        .filter(|line| !line.starts_with("# start") && !line.starts_with("# end"))
        .map(|line| match line.strip_prefix("# ") {
            Some(entry) if entry.contains(" = ") => format!("{entry}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    let filled = Readings::from_toml(&filled, &vehicle).unwrap_or_else(|e| panic!("{e}\n{filled}"));
    let complete = |one: &InjectorReadings| one.ohms.is_some() && one.drops_per_minute.is_some();
    assert!(filled.injectors.iter().all(complete));
    assert_eq!(filled.rail.after_ten_minutes_kpa, Some(350.0));
}

/// By hand: 55 psi are 379.2 kPa, 3.8 bar 380 kPa, 68 °F 20 °C.
#[test]
fn every_unit_comes_out_the_same() {
    let us = read("coil_temperature_f = 68\ngauge_step_psi = 1\n[rail]\npressure_psi = 55\n");
    assert!((us.rail.pressure_kpa.unwrap() - 379.2).abs() < 0.1);
    assert!((us.coil_temperature_c.unwrap() - 20.0).abs() < 1e-9);
    assert!((us.steps.gauge_kpa - 6.895).abs() < 0.001);
    assert_eq!(
        read("[rail]\npressure_bar = 3.8").rail.pressure_kpa,
        Some(380.0)
    );
    let drop = read("[[injector]]\ncylinder = 1\nstart_kpa = 379\nend_kpa = 280\n");
    assert_eq!(drop.injectors[0].drop_kpa, Some(99.0));
    // 30 mL in 10 s are 45 mL in 15 s
    let volumes = read(
        "volume_time_s = 15\n[[injector]]\ncylinder = 1\nvolume_ml = 45\n\
         [[injector]]\ncylinder = 2\nvolume_ml = 30\nvolume_time_s = 10\n",
    );
    assert_eq!(volumes.each(|one| one.volume_ml), [Some(45.0), Some(45.0)]);
}

#[test]
fn what_a_meter_shows_for_an_open_winding_is_understood() {
    for open in ["inf", "\"open\"", "\"OL\"", "\"O.L.\""] {
        let form = format!("[[injector]]\ncylinder = 1\nohms = {open}\n");
        assert_eq!(read(&form).injectors[0].ohms, Some(f64::INFINITY), "{open}");
    }
}

#[test]
fn a_number_that_cannot_be_is_named_with_its_place() {
    for (text, place, what) in [
        (
            "[[injector]]\ncylinder = 1\nohms = -3.0\n",
            "line 3, column 8: ohms = -3.0",
            "ohms from 0 to 100 million",
        ),
        (
            "[[injector]]\ncylinder = 1\nohms = 1e308\n",
            "line 3, column 8: ohms = 1e308: expected ohms from 0 to 100 million, or \"open\"",
            "",
        ),
        (
            "[[injector]]\ncylinder = 9\n",
            "line 2, column 12: cylinder = 9",
            "expected 1 to 4",
        ),
        (
            "coil_temperature_c = nan",
            "line 1, column 22",
            "-40 to 150",
        ),
        (
            "coil_temperature_f = 400",
            "line 1, column 22",
            "-40 to 302",
        ),
        (
            "coil_temperature_c = 1e3",
            "line 1, column 22",
            "-40 to 150",
        ),
        (
            "[[injector]]\ncylinder = 1\nrpm_drop = 680\n",
            "line 3, column 12",
            "-200 to 500",
        ),
        (
            "[[injector]]\ncylinder = 1\ndrop_psi = \"8 psi\"\n",
            "line 3, column 12",
            "without quotes",
        ),
        (
            "[[injector]]\ncylinder = 1\nclick = 1\n",
            "line 3, column 9",
            "true or false",
        ),
        (
            "[[injector]]\nohms = 14\n",
            "line 1, column 1",
            "no cylinder",
        ),
    ] {
        let message = mistake(text);
        assert!(
            message.starts_with(place) && message.contains(what),
            "{message}"
        );
    }
}

#[test]
fn nine_readings_for_four_cylinders_are_not_taken() {
    let nine: String = (1..10)
        .map(|cylinder| format!("[[injector]]\ncylinder = {cylinder}\nohms = 14\n"))
        .collect();
    let message = mistake(&nine);
    assert!(
        message.starts_with("line 14, column 12: cylinder = 5: expected 1 to 4"),
        "{message}"
    );
    assert!(
        message.ends_with("also look at lines 17, 20, 23, 26"),
        "{message}"
    );
    let twice = mistake("[[injector]]\ncylinder = 1\n[[injector]]\ncylinder = 1\n");
    assert!(
        twice.contains("line 4") && twice.contains("once"),
        "{twice}"
    );
}

#[test]
fn slips_of_the_pen_are_answered_with_what_was_meant() {
    for (text, what) in [
        (
            "[[injector]]\ncylinder = 1\nohms = 14,2\n",
            "point, as in 14.2",
        ),
        (
            "[[injector]]\ncylinder = 1\nohms = 14 ohm\n",
            "number alone",
        ),
        ("[[injector]]\ncylinder = 1\nclick = yes\n", "true or false"),
        ("[[injector]]\ncylinder = 1\nohms =\n", "put a # before"),
        (
            "[[injector]]\ncylinder = 1\nohm = 14\n",
            "ohm is not known in [[injector]]",
        ),
        (
            "[rail]\npressure = 55\n",
            "pressure needs its unit: pressure_kpa, pressure_bar, pressure_psi",
        ),
        ("ohms = 14\n", "ohms belongs in [[injector]]"),
        (
            "[injector]\ncylinder = 1\n",
            "[[injector]] with two brackets",
        ),
        (
            "[rail]\npressure_kpa = 380\npressure_psi = 55\n",
            "one reading in two units",
        ),
    ] {
        let message = mistake(text);
        assert!(
            message.starts_with("line ") && message.contains(what),
            "{message}"
        );
    }
}

/// 55 psi are 379 kPa, a usual rail; 55 kPa is none.
#[test]
fn a_pressure_in_another_unit_is_asked_about() {
    let message = mistake("[rail]\npressure_kpa = 55\n");
    assert!(
        message.starts_with("line 2, column 16: pressure_kpa = 55"),
        "{message}"
    );
    assert!(message.contains("pressure_psi = 55"), "{message}");
    // the way out that the message names
    assert!(message.ends_with("write pressure_bar = 0.55"), "{message}");
    assert!(
        (read("[rail]\npressure_bar = 0.55")
            .rail
            .pressure_kpa
            .unwrap()
            - 55.0)
            .abs()
            < 1e-9
    );
    assert!(mistake("[rail]\npressure_kpa = 3.8\n").contains("pressure_bar = 3.8"));
    assert!(mistake("[rail]\npressure_psi = 380\n").contains("pressure_kpa = 380"));
    let direct = Vehicle {
        injection: Some(Injection::Direct),
        ..Vehicle::default()
    };
    assert!(Readings::from_toml("[rail]\npressure_psi = 2200\n", &direct).is_ok());
    assert!(Readings::from_toml("[rail]\npressure_bar = 150\n", &Vehicle::default()).is_ok());
    assert!(Readings::from_toml("[rail]\npressure_kpa = 0\n", &Vehicle::default()).is_ok());
    let drops =
        "[[injector]]\ncylinder = 1\ndrop_kpa = 8\n[[injector]]\ncylinder = 2\ndrop_kpa = 9\n";
    assert!(mistake(drops).contains("was it drop_psi?"));
    let kilo = mistake("[[injector]]\ncylinder = 1\nohms = 0.014\n");
    assert!(kilo.contains("ohms = 14"), "{kilo}");
}

#[test]
fn readings_that_contradict_each_other_are_named() {
    for (text, what) in [
        (
            "ohms = inf\nclick = true\n",
            "line 5, column 8: cylinder 1: an injector whose winding is open cannot click",
        ),
        ("ohms = inf\nvolume_ml = 50\n", "cannot deliver fuel"),
        (
            "drop_kpa = 400\n",
            "line 5, column 12: drop_kpa = 400 is more than the rail holds (pressure_kpa = 380)",
        ),
        (
            "start_kpa = 300\nend_kpa = 310\n",
            "line 6, column 11: end_kpa = 310 after start_kpa = 300",
        ),
        ("start_kpa = 300\n", "start_kpa = 300 needs both"),
        (
            "drop_kpa = 60\nstart_kpa = 300\nend_kpa = 240\n",
            "say the same thing twice",
        ),
    ] {
        let message = mistake(&format!(
            "[rail]\npressure_kpa = 380\n[[injector]]\ncylinder = 1\n{text}"
        ));
        assert!(message.contains(what), "{message}");
    }
    let rise = mistake("[rail]\npressure_kpa = 300\nafter_ten_minutes_kpa = 3500\n");
    assert!(
        rise.starts_with("line 3, column 25") && rise.contains("cannot rise"),
        "{rise}"
    );
    let times = mistake(
        "[[injector]]\ncylinder = 1\nvolume_ml = 45\nvolume_time_s = 15\n[[injector]]\ncylinder = 2\nvolume_ml = 30\n",
    );
    assert!(
        times.starts_with("line 6, column 12: cylinder 2"),
        "{times}"
    );
}

#[test]
fn findings_say_what_to_do_about_each_kind_of_reading() {
    let form = "coil_temperature_c = 20\n[rail]\npressure_kpa = 380\nafter_ten_minutes_kpa = 100\n\
        [[injector]]\ncylinder = 1\nohms = 14\nrpm_drop = 80\ndrops_per_minute = 0\n\
        [[injector]]\ncylinder = 2\nohms = 14.1\nclick = false\npulse = true\nrpm_drop = 5\n\
        [[injector]]\ncylinder = 3\nohms = 13.9\npulse = false\nrpm_drop = 85\ndrops_per_minute = 12\n\
        [[injector]]\ncylinder = 4\nohms = \"open\"\nrpm_drop = 90\n";
    let found = findings(&read(form), &four());
    let of = |cylinder: usize| &found.injectors[cylinder - 1];
    assert_eq!(of(2).power, Power::Weak);
    assert_eq!(
        (of(1).leakage, of(3).leakage),
        (Leakage::Ok, Leakage::Leaks)
    );
    assert_eq!(of(4).electrical, Electrical::Open);
    assert_eq!(found.rail.unwrap().hold, Hold::Leaks);
    let notes = found.notes.join("\n");
    for said in [
        "Electrically dead: cylinder 4. Cleaning cannot help",
        "No drive pulse at cylinder 3: check wiring",
        "Pulse but no click at cylinder 2",
        "Leaks: cylinder 3",
        "Contributes hardly any power at idle: cylinder 2",
        "Leak-down: the pressure drops",
    ] {
        assert!(notes.contains(said), "{said}\n{notes}");
    }
}

#[test]
fn a_count_between_tight_and_dripping_is_compared_with_a_sound_seat() {
    let said = |drops: &str| {
        let form = format!("[[injector]]\ncylinder = 2\ndrops_per_minute = {drops}\n");
        findings(&read(&form), &four()).notes.join("\n")
    };
    assert!(said("1").contains("good and leaking: cylinder 2. A good injector"));
    assert!(said("6").contains("Leaks: cylinder 2"));
    assert_eq!(said("0"), "");
}

#[test]
fn one_flow_alone_asks_for_its_fellows() {
    let asks = |form: &str| {
        let notes = findings(&read(form), &four()).notes.join("\n");
        notes.contains("measure the others")
    };
    let one = "[[injector]]\ncylinder = 1\nvolume_ml = 50\n";
    assert!(asks(one));
    assert!(!asks(&format!(
        "{one}[[injector]]\ncylinder = 2\nvolume_ml = 51\n"
    )));
    assert!(!asks("[[injector]]\ncylinder = 1\nclick = true\n"));
}

#[test]
fn what_lies_outside_the_cars_own_range_is_named_with_the_next_step() {
    let vehicle = Vehicle {
        coil_ohms: Some([11.5, 12.5]),
        rail_kpa: Some([370.0, 400.0]),
        ..four()
    };
    let notes = |ohms: [f64; 4], kpa: f64| {
        let blocks = (1..).zip(ohms);
        let blocks: String = blocks
            .map(|(cylinder, ohms)| format!("[[injector]]\ncylinder = {cylinder}\nohms = {ohms}\n"))
            .collect();
        let form = format!("coil_temperature_c = 20\n[rail]\npressure_kpa = {kpa}\n{blocks}");
        findings(&read(&form), &vehicle).notes.join("\n")
    };
    let one = notes([12.0, 12.1, 14.0, 12.0], 340.0);
    assert!(one.contains("unlike the others: cylinder 3."), "{one}");
    assert!(one.contains("Rail pressure is below"), "{one}");
    let all = notes([14.0, 14.1, 14.0, 14.2], 430.0);
    assert!(
        all.contains("Every winding is outside 11.5 to 12.5 Ω"),
        "{all}"
    );
    assert!(all.contains("Rail pressure is above"), "{all}");
    assert_eq!(notes([12.0, 12.1, 11.9, 12.0], 385.0), "");
}

#[test]
fn cleaning_is_judged_by_what_it_brought() {
    let form = |after: [f64; 4]| -> String {
        let blocks = after.iter().zip([50.0, 49.0, 40.0, 51.0]).enumerate();
        blocks
            .map(|(index, (after, before))| {
                format!(
                    "[[injector]]\ncylinder = {}\nvolume_ml = {before}\nvolume_after_ml = {after}\n",
                    index + 1
                )
            })
            .collect()
    };
    let cleaned = findings(&read(&form([51.0, 50.0, 50.0, 51.0])), &four());
    assert_eq!(cleaned.injectors[2].flow, Flow::Restricted);
    assert_eq!(cleaned.injectors[2].flow_after, Flow::Ok);
    // by hand: 50 of 40 mL is a quarter more
    assert!((cleaned.injectors[2].gained_pct.unwrap() - 25.0).abs() < 1e-9);
    let stubborn = findings(&read(&form([51.0, 50.0, 41.0, 51.0])), &four());
    assert!(
        stubborn
            .notes
            .iter()
            .any(|note| note.contains("Still restricted after cleaning: cylinder 3"))
    );
}

proptest! {
    #[test]
    fn any_text_is_read_or_answered_with_a_place(text in "\\PC*") {
        if let Err(error) = Readings::from_toml(&text, &four()) {
            prop_assert!(error.to_string().starts_with("line "), "{error}");
        }
    }

    /// Whatever numbers a form holds, verdicts never contradict each other.
    #[test]
    fn any_numbers_are_judged_soundly(
        ohms in prop::collection::vec(prop::option::of(0.0..2000.0_f64), 4),
        drops in prop::collection::vec(prop::option::of(0.0..300.0_f64), 4),
        falls in prop::collection::vec(prop::option::of(-200.0..500.0_f64), 4),
        step in 0.1..50.0_f64,
    ) {
        let entry = |key: &str, value: Option<f64>| value.map_or(String::new(), |v| format!("{key} = {v:?}\n"));
        let mut form = format!("coil_temperature_c = 20\ngauge_step_kpa = {step:?}\n");
        for index in 0..4 {
            form += &format!("[[injector]]\ncylinder = {}\n", index + 1);
            form += &entry("ohms", ohms[index]);
            form += &entry("drop_kpa", drops[index]);
            form += &entry("rpm_drop", falls[index]);
        }
        let Ok(readings) = Readings::from_toml(&form, &four()) else { return Ok(()) };
        for (index, one) in findings(&readings, &four()).injectors.iter().enumerate() {
            prop_assert_eq!(one.ohms_at_20c, ohms[index]);
            if let (Some(flow), Some(low), Some(high)) = (one.relative_flow, one.low, one.high) {
                prop_assert!(low <= flow && flow <= high && low >= 0.0);
            }
            prop_assert!(one.flow == Flow::Unknown || drops[index].is_some());
            prop_assert!(one.power == Power::Unknown || falls[index].is_some());
            prop_assert!(one.electrical == Electrical::Unknown || ohms[index].is_some());
        }
    }
}
