//! Refuelling during a recording.

use super::*;
use crate::series::label::region::Region;

/// Five minutes of cruise, a stand, five minutes of cruise; level and short trim before and after.
fn trip(stand_s: f64, level: [f64; 2], short: [f64; 2], swing: f64) -> Summary {
    let seconds = 600 + stand_s as u64;
    summary_of(seconds, |t| {
        let after = usize::from(t >= 300.0 + stand_s);
        let stands = (300.0..300.0 + stand_s).contains(&t);
        let car = if stands {
            Car::idling()
        } else {
            Car::cruising()
        };
        // bends: the fuel sways to and fro within 40 s
        let swing = if stands { 0.0 } else { swing * (t / 6.4).sin() };
        // a signal that never moves would be a stuck one
        let lively = (t / 3.0).floor() % 5.0;
        let (rpm, load) = if stands {
            (750.0, 25.0)
        } else {
            (2200.0, 35.0)
        };
        car.with(Pid::ENGINE_SPEED, rpm + lively)
            .with(Pid::LOAD, load + lively)
            .with(Pid::SHORT_TRIM_BANK_1, short[after] + lively - 2.0)
            .with(Pid::FUEL_LEVEL, level[after] + swing)
    })
}

#[test]
fn a_level_that_is_higher_after_a_stand_was_filled_in() {
    let summary = trip(150.0, [30.0, 80.0], [0.0, 8.0], 4.0);
    let refuelling = summary.refuelling.expect("filled");
    assert!((refuelling.from_pct - 30.0).abs() < 3.0, "{refuelling:?}");
    assert!((refuelling.to_pct - 80.0).abs() < 3.0, "{refuelling:?}");
    let [moved] = &refuelling.moved[..] else {
        panic!("one region was seen on both sides: {refuelling:?}");
    };
    assert_eq!((moved.bank, moved.region), (1, Region::LightCruise));
    assert!((moved.by_log - 1.08_f64.ln()).abs() < 1e-3, "{moved:?}");
    assert!((moved.after_share - 0.5).abs() < 0.03, "{moved:?}");
}

#[test]
fn bends_a_short_stand_and_a_stand_without_a_rise_are_no_refuelling() {
    assert_eq!(trip(150.0, [30.0, 30.0], [0.0, 8.0], 10.0).refuelling, None);
    // nobody fills a tank in half a minute
    assert_eq!(trip(30.0, [30.0, 80.0], [0.0, 8.0], 0.0).refuelling, None);
}

#[test]
fn a_pause_of_the_recording_is_a_stand_too() {
    let mut builder = Builder::new();
    let driving = |level| move |_| Car::cruising().with(Pid::FUEL_LEVEL, level);
    read(&mut builder, 0..200, 1, driving(20.0));
    read(&mut builder, 200..210, 1, |_| {
        Car::idling().with(Pid::FUEL_LEVEL, 20.0)
    });
    read(&mut builder, 500..510, 1, |_| {
        Car::idling().with(Pid::FUEL_LEVEL, 90.0)
    });
    read(&mut builder, 510..700, 1, driving(90.0));
    let refuelling = builder.finish().refuelling.expect("filled");
    assert_eq!((refuelling.from_pct, refuelling.to_pct), (20.0, 90.0));
}
