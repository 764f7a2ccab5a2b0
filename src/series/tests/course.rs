//! The second-by-second course of a trip, and the present moment.

use super::*;
use crate::{
    bank::Bank,
    series::{gather::cell::Cell, label::region::Region, timeline::course::Second},
};

/// By hand: 2200 rpm lies in the fifth column of 500 rpm, 35 % in the fourth row of 10 points; ln 1.05 = 0.04879.
#[test]
fn the_course_tells_of_each_second_how_the_engine_ran_and_where_that_is() {
    let mut builder = Builder::keeping_course();
    read(&mut builder, 0..60, 1, |_| Car::cruising());
    let course: Vec<Second> = builder.drain_course().collect();
    let last = *course.last().unwrap();
    assert!(last.second >= 56, "three seconds late at most: {last:?}");
    assert_eq!(
        (last.label, last.region),
        (Label::Used, Some(Region::LightCruise))
    );
    assert_eq!(last.cell, Some(Cell { speed: 4, load: 3 }));
    assert_eq!(last.running.engine_rpm, Some(2200.0));
    assert_eq!(last.running.speed_km_h, Some(80.0));
    let y = last.trim_log[Bank::One].unwrap();
    assert!((y - 0.04879).abs() < 1e-5, "{y}");
    let ordered = |pair: &[Second]| pair[0].second < pair[1].second;
    assert!(course.windows(2).all(ordered));
    assert_eq!(builder.drain_course().count(), 0, "handed over once");
}

#[test]
fn how_the_engine_runs_now_is_known_at_once_and_not_longer_than_a_reading_is_believed() {
    let mut builder = Builder::new();
    read(&mut builder, 0..20, 4, |_| Car::idling());
    read(&mut builder, 20..21, 4, |_| {
        Car::idling().with(Pid::ENGINE_SPEED, 2500.0)
    });
    assert_eq!(builder.running().engine_rpm, Some(2500.0));
    assert_eq!(builder.running().coolant_c, Some(90.0));
    read(&mut builder, 21..26, 4, |_| {
        Car::idling().without(Pid::ENGINE_SPEED)
    });
    assert_eq!(builder.running().engine_rpm, None);
    assert_eq!(
        builder.drain_course().count(),
        0,
        "not kept unless asked for"
    );
}
