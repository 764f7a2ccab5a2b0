//! Rail pressure by region, as each parameter reports it.

use crate::series::{
    gather::operation::Mean,
    label::region::{ByRegion, Region},
    summary::{RailPressure, RailSensor},
    timeline::{moment::Moment, quantity::Quantity},
};

/// Each sensor with the quantity that reports its pressure and the quantity that reports the command.
const SENSORS: [(RailSensor, Quantity, Option<Quantity>); 5] = [
    (RailSensor::Low, Quantity::FuelPressure, None),
    (RailSensor::ToManifold, Quantity::RailToManifold, None),
    (RailSensor::Gauge, Quantity::RailGauge, None),
    (RailSensor::Absolute, Quantity::RailAbsolute, None),
    (
        RailSensor::Controlled,
        Quantity::RailActual,
        Some(Quantity::RailCommanded),
    ),
];

/// Seconds and means of one parameter in one region.
#[derive(Debug, Clone, Copy, Default)]
struct Reported {
    seconds: f64,
    kpa: Mean,
    commanded_kpa: Mean,
}

/// Running means by region and parameter.
#[derive(Debug, Clone, Default)]
pub struct Rail {
    reported: ByRegion<[Reported; SENSORS.len()]>,
}

impl Rail {
    /// Takes a moment that counts. A pressure of exactly 0 with the engine running is a placeholder.
    pub fn push(&mut self, moment: &Moment, region: Region) {
        for (reported, (_, pressure, commanded)) in self.reported[region].iter_mut().zip(SENSORS) {
            let Some(kpa) = moment.get(pressure).filter(|kpa| *kpa > 0.0) else {
                continue;
            };
            reported.seconds += 1.0;
            reported.kpa.push(Some(kpa));
            reported
                .commanded_kpa
                .push(commanded.and_then(|quantity| moment.get(quantity)));
        }
    }

    /// Mean pressures, region by region.
    pub fn summary(&self) -> Vec<RailPressure> {
        let rows = self.reported.iter().flat_map(|(region, reported)| {
            reported
                .iter()
                .zip(SENSORS)
                .filter_map(move |(reported, sensor)| {
                    Some(RailPressure {
                        sensor: sensor.0,
                        region,
                        seconds: reported.seconds,
                        kpa: reported.kpa.get()?,
                        commanded_kpa: reported.commanded_kpa.get().filter(|kpa| *kpa > 0.0),
                    })
                })
        });
        rows.collect()
    }
}
