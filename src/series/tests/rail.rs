//! The rail's pressure by region.

use super::*;
use crate::series::{label::region::Region, summary::RailSensor};

#[test]
fn every_parameter_that_tells_the_rail_is_kept_by_region() {
    let summary = summary_of(120, |t| {
        let car = if t < 60.0 {
            Car::idling()
        } else {
            Car::cruising()
        };
        car.with(Pid::FUEL_PRESSURE, if t < 60.0 { 351.0 } else { 342.0 })
            .with(Pid::RAIL_CONTROL, 5_000.0)
            .with_item(Item::part(Pid::RAIL_CONTROL, 1), 4_500.0)
    });
    let of = |sensor, region| {
        let mut rows = summary.rail.iter();
        let row = rows.find(|row| (row.sensor, row.region) == (sensor, region));
        row.map(|row| (row.kpa, row.commanded_kpa))
    };
    assert_eq!(of(RailSensor::Low, Region::WarmIdle), Some((351.0, None)));
    assert_eq!(
        of(RailSensor::Low, Region::LightCruise),
        Some((342.0, None))
    );
    assert_eq!(
        of(RailSensor::Controlled, Region::WarmIdle),
        Some((4_500.0, Some(5_000.0)))
    );
    assert_eq!(of(RailSensor::Gauge, Region::WarmIdle), None);
}

#[test]
fn a_rail_without_any_pressure_in_a_running_engine_was_not_reported() {
    let summary = summary_of(60, |_| Car::idling().with(Pid::FUEL_PRESSURE, 0.0));
    assert_eq!(summary.rail, []);
}
