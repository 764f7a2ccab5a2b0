//! Means of the total correction, and trims that are no measurements.

use super::*;
use crate::series::{label::region::Region, warning::NotJudged};

fn swinging(t: f64) -> f64 {
    if t % 2.0 < 1.0 { 2.0 } else { -2.0 }
}

/// ln 1.02 and ln 0.98 in equal parts.
fn swing_mean() -> f64 {
    (1.02_f64.ln() + 0.98_f64.ln()) / 2.0
}

#[test]
fn regions_are_distinguished_by_speed_engine_speed_and_load() {
    let at = |rpm, speed, load| {
        let car = Car::idling()
            .with(Pid::ENGINE_SPEED, rpm)
            .with(Pid::VEHICLE_SPEED, speed)
            .with(Pid::LOAD, load);
        let summary = summary_of(60, move |_| car.clone());
        summary.trims.first().map(|trim| trim.region)
    };
    assert_eq!(at(750.0, 0.0, 25.0), Some(Region::WarmIdle));
    assert_eq!(at(2500.0, 0.0, 22.0), Some(Region::RaisedIdle));
    assert_eq!(at(1500.0, 0.0, 22.0), None);
    assert_eq!(at(2000.0, 80.0, 35.0), Some(Region::LightCruise));
    assert_eq!(at(2000.0, 80.0, 75.0), Some(Region::Loaded));
    assert_eq!(at(1000.0, 6.0, 35.0), None);
}

#[test]
fn the_mean_is_of_ln_c() {
    let summary = summary_of(600, |t| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, swinging(t))
            .with(Pid::LONG_TRIM_BANK_1, 10.0)
    });
    let trim = only_trim(&summary);
    let expected = 1.1_f64.ln() + swing_mean();
    assert!((trim.mean_log - expected).abs() < 1e-9, "{trim:?}");
    assert_eq!((trim.seconds, trim.readings), (600.0, 600));
    let (low, high) = trim.interval_log(0.95);
    assert!(low < expected && expected < high);
}

#[test]
fn a_car_without_long_trim_is_judged_by_the_short_one() {
    let summary = summary_of(120, |_| {
        Car::idling()
            .without(Pid::LONG_TRIM_BANK_1)
            .with(Pid::SHORT_TRIM_BANK_1, 8.0)
    });
    assert!((only_trim(&summary).mean_log - 1.08_f64.ln()).abs() < 1e-9);
}

#[test]
fn doubt_shrinks_as_stretches_come_in() {
    let after = |seconds| {
        let summary = summary_of(seconds, |t| {
            Car::idling().with(Pid::SHORT_TRIM_BANK_1, swinging(t))
        });
        *only_trim(&summary)
    };
    let (short, long) = (after(20), after(1200));
    // 20 s of an idle: the usual spread alone, 0.5 points at 12 min, and the slow wandering of 0.8 points
    let expected = (0.005_f64.powi(2) * 36.0 + 0.008_f64.powi(2) / (1.0 + 20.0 / 600.0)).sqrt();
    assert!((short.std_error_log - expected).abs() < 1e-9);
    assert_eq!(short.degrees_of_freedom, 4.0);
    // twenty minutes of a trim that hardly wanders: little more than what may have wandered slowly
    assert!((0.0046..0.0052).contains(&long.std_error_log), "{long:?}");
    assert!(long.degrees_of_freedom > 20.0);
}

#[test]
fn banks_are_compared_in_the_same_moments() {
    let summary = summary_of(300, |t| {
        // both banks wander together by far more than they differ
        let wander = 4.0 * (t / 40.0).sin();
        Car::cruising()
            .with(Pid::SHORT_TRIM_BANK_1, wander)
            .with(Pid::LONG_TRIM_BANK_1, 8.0)
            .with(Pid::SHORT_TRIM_BANK_2, wander)
            .with(Pid::LONG_TRIM_BANK_2, 2.0)
    });
    assert_eq!(summary.facts.banks, 2);
    let [difference] = &summary.bank_differences[..] else {
        panic!("{:?}", summary.bank_differences);
    };
    assert_eq!(
        (difference.other, difference.region),
        (2, Region::LightCruise)
    );
    assert!((difference.mean_log - (1.08_f64 / 1.02).ln()).abs() < 1e-9);
    assert!(difference.std_error_log < summary.trims[0].std_error_log / 1.3);
}

#[test]
fn banks_three_and_four_are_the_second_quantity_of_their_parameters() {
    let summary = summary_of(120, |t| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, swinging(t))
            .with_item(Item::part(Pid::SHORT_TRIM_BANK_1, 1), swinging(t + 1.0))
            .with_item(Item::part(Pid::LONG_TRIM_BANK_1, 1), -7.0)
    });
    let banks: Vec<u8> = summary.trims.iter().map(|trim| trim.bank).collect();
    assert_eq!(banks, [1, 3]);
    assert!((summary.trims[1].mean_log - (0.93_f64.ln() + swing_mean())).abs() < 1e-9);
}

#[test]
fn a_bank_that_repeats_bank_one_to_the_bit_is_left_out() {
    let summary = summary_of(300, |t| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, swinging(t))
            .with(Pid::SHORT_TRIM_BANK_2, swinging(t))
            .with(Pid::LONG_TRIM_BANK_2, 5.0)
    });
    assert_eq!(summary.facts.copied_banks, [2]);
    assert_eq!(
        (summary.facts.banks, summary.bank_differences.len()),
        (1, 0)
    );
    only_trim(&summary);
    assert!(warned(&summary, &Warning::CopiedBank(2)));
}

#[test]
fn trims_all_alike_and_diesels_are_not_judged() {
    let alike = summary_of(300, |_| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, 5.0)
            .with(Pid::SHORT_TRIM_BANK_2, 5.0)
            .with(Pid::LONG_TRIM_BANK_2, 5.0)
    });
    assert_eq!(alike.facts.not_judged, Some(NotJudged::TrimsAlike));
    let diesel = summary_of(300, |t| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, swinging(t))
            .with(Pid::FUEL_TYPE, 4.0)
    });
    assert_eq!(diesel.facts.not_judged, Some(NotJudged::Diesel));
    for (summary, reason) in [(alike, NotJudged::TrimsAlike), (diesel, NotJudged::Diesel)] {
        assert!(summary.trims.is_empty() && summary.cells.is_empty());
        assert!(warned(&summary, &Warning::NotJudged(reason)));
    }
}

#[test]
fn a_placeholder_is_no_trim() {
    let summary = summary_of(120, |t| {
        Car::idling()
            .with(Pid::SHORT_TRIM_BANK_1, swinging(t))
            .with(Pid::SHORT_TRIM_BANK_2, -100.0)
            .with(Pid::LONG_TRIM_BANK_2, -100.0)
    });
    assert_eq!(only_trim(&summary).bank, 1);
    let summary = summary_of(120, |_| Car::idling().with(Pid::SHORT_TRIM_BANK_1, -100.0));
    assert_eq!(labels(&summary), [(Label::Implausible, 120.0)]);
}

#[test]
fn a_short_trim_at_its_limit_is_reported() {
    // at 25 % for half of the time, and never beyond
    let at = |highest: f64, t: f64| {
        let short = if t < 150.0 {
            20.0 + swinging(t)
        } else {
            highest
        };
        Car::idling().with(Pid::SHORT_TRIM_BANK_1, short)
    };
    let summary = summary_of(300, |t| at(25.0, t));
    assert!((only_trim(&summary).saturated - 0.5).abs() < 1e-9);
    assert!(summary.warnings.iter().any(|warning| {
        matches!(warning, Warning::Saturated { share, .. } if (share - 0.5).abs() < 0.005)
    }));
    // a trim that goes on past 25 does not stop there
    let summary = summary_of(300, |t| at(if t < 200.0 { 25.0 } else { 30.0 }, t));
    assert_eq!(only_trim(&summary).saturated, 0.0);
    // a long trim at its stop while the short one swings: the sum is still what the engine needs
    let summary = summary_of(300, |t| {
        Car::idling()
            .with(Pid::LONG_TRIM_BANK_1, 25.0)
            .with(Pid::SHORT_TRIM_BANK_1, 4.0 + swinging(t))
    });
    assert_eq!(only_trim(&summary).saturated, 0.0);
}

#[test]
fn cells_are_finer_than_regions() {
    let summary = summary_of(240, |t| {
        let car = Car::cruising().with(Pid::SHORT_TRIM_BANK_1, swinging(t));
        // a hill: load 35 to 48, engine speed from one column to the next
        if t < 120.0 {
            car
        } else {
            car.with(Pid::LOAD, 48.0).with(Pid::ENGINE_SPEED, 2600.0)
        }
    });
    let cells: Vec<_> = summary
        .cells
        .iter()
        .map(|c| (c.cell.speed, c.cell.load))
        .collect();
    assert_eq!(cells, [(4, 3), (5, 4)]);
    assert_eq!(only_trim(&summary).seconds, 240.0);
    let [operation] = &summary.operation[..] else {
        panic!("{:?}", summary.operation);
    };
    assert!((operation.engine_rpm - 2400.0).abs() < 1e-9);
    assert_eq!(operation.load_pct, Some(41.5));
    assert_eq!(operation.air_g_per_s, None);
}

#[test]
fn standing_and_driving_have_cells_of_their_own() {
    // a held 2500 rpm and a slow cruise at the same speed and load
    let summary = summary_of(240, |t| {
        let car = Car::idling()
            .with(Pid::ENGINE_SPEED, 2400.0)
            .with(Pid::LOAD, 32.0);
        if t < 120.0 {
            car
        } else {
            car.with(Pid::VEHICLE_SPEED, 60.0)
        }
    });
    let regions: Vec<_> = summary
        .cells
        .iter()
        .map(|cell| (cell.region, cell.cell))
        .collect();
    let cell = summary.cells[0].cell;
    assert_eq!(
        regions,
        [
            (Some(Region::RaisedIdle), cell),
            (Some(Region::LightCruise), cell)
        ]
    );
}

/// Long trim at 0 for two minutes, then learned; and one that was already learned.
#[test]
fn long_trim_that_begins_at_zero_has_been_cleared() {
    let learning = |from: f64| {
        summary_of(400, move |t| {
            let long = if t < 120.0 { from } else { 6.0 };
            Car::idling().with(Pid::LONG_TRIM_BANK_1, long)
        })
    };
    assert!(learning(0.0).facts.long_trim_from_zero);
    assert!(!learning(0.8).facts.long_trim_from_zero);
    // a car without long trim stays at zero
    let never = summary_of(400, |_| Car::idling().with(Pid::LONG_TRIM_BANK_1, 0.0));
    assert!(!never.facts.long_trim_from_zero);
}

#[test]
fn facts_are_first_last_or_mean_as_they_should() {
    let mut builder = Builder::new();
    builder.car_mut().take_vin("WVWZZZ00000000001");
    read(&mut builder, 0..100, 1, |t| {
        Car::idling()
            .with(Pid::FUEL_LEVEL, 60.0 - t / 100.0)
            .with(Pid::INTAKE_AIR, if t < 50.0 { 20.0 } else { 28.0 })
            .with(Pid::TIME_SINCE_CLEAR, 8000.0 + t / 60.0)
            .with(Pid::AIR_FLOW, 0.0)
            .with(Pid::ETHANOL, 10.0)
    });
    let facts = builder.finish().facts;
    assert_eq!(facts.fuel_level_pct, Some((60.0, 59.01)));
    assert_eq!(facts.intake_air_c, Some(24.0));
    assert_eq!(facts.minutes_since_clear, Some(8000.0));
    assert_eq!(facts.ethanol_pct, Some(10.0));
    assert!(!facts.air_flow_seen && !facts.manifold_pressure_seen && facts.loop_status_seen);
    assert_eq!(facts.car.vin.as_deref(), Some("WVWZZZ00000000001"));
}

#[test]
fn what_is_missing_is_said() {
    assert!(warned(&Builder::new().finish(), &Warning::NoEngineSpeed));
    let summary = summary_of(60, |_| {
        Car::idling()
            .without(Pid::SHORT_TRIM_BANK_1)
            .without(Pid::LONG_TRIM_BANK_1)
    });
    assert!(warned(&summary, &Warning::NoTrims));
    assert!(warned(&summary, &Warning::LittleData(0.0)));
}
