//! Made-up streams of readings whose outcome can be worked out by hand.

mod course;
mod drift;
mod fuel_trims;
mod full_load;
mod labels;
mod misfires;
mod purge;
mod rail;
mod rates;
mod refuel;

use crate::series::warning::Warning;
use pintle_protocol::{Item, Pid};

use super::{
    Builder, Observation,
    label::Label,
    summary::{Summary, TrimSummary},
};

/// What a car reports at one time; `None` for quantities that it does not have.
#[derive(Debug, Clone)]
struct Car {
    readings: Vec<(Item, f64)>,
}

impl Car {
    /// A warm engine idling, in closed loop, trims at 0 and 5 percent.
    fn idling() -> Self {
        Self {
            readings: Vec::new(),
        }
        .with(Pid::ENGINE_SPEED, 750.0)
        .with(Pid::VEHICLE_SPEED, 0.0)
        .with(Pid::LOAD, 25.0)
        .with(Pid::COOLANT, 90.0)
        .with(Pid::FUEL_SYSTEM, 2.0)
        .with(Pid::SHORT_TRIM_BANK_1, 0.0)
        .with(Pid::LONG_TRIM_BANK_1, 5.0)
    }

    /// A car at 80 km/h with light load, in closed loop.
    fn cruising() -> Self {
        Self::idling()
            .with(Pid::ENGINE_SPEED, 2200.0)
            .with(Pid::VEHICLE_SPEED, 80.0)
            .with(Pid::LOAD, 35.0)
    }

    /// With another value of the first quantity of a parameter.
    fn with(self, pid: Pid, value: f64) -> Self {
        self.with_item(Item::current(pid), value)
    }

    fn with_item(mut self, item: Item, value: f64) -> Self {
        self.readings.retain(|(other, _)| *other != item);
        self.readings.push((item, value));
        self
    }

    /// Without a parameter.
    fn without(mut self, pid: Pid) -> Self {
        self.readings
            .retain(|(item, _)| *item != Item::current(pid));
        self
    }
}

/// Reads a car `rate` times a second from one second to another.
fn read(builder: &mut Builder, seconds: std::ops::Range<u64>, rate: u64, car: impl Fn(f64) -> Car) {
    for tick in seconds.start * rate..seconds.end * rate {
        let t_us = tick * 1_000_000 / rate;
        for (item, value) in car(t_us as f64 / 1e6).readings {
            builder.push(Observation { t_us, item, value });
        }
    }
}

/// The summary of a car read once a second.
fn summary_of(seconds: u64, car: impl Fn(f64) -> Car) -> Summary {
    let mut builder = Builder::new();
    read(&mut builder, 0..seconds, 1, car);
    builder.finish()
}

/// The labels with seconds that are not 0.
fn labels(summary: &Summary) -> Vec<(Label, f64)> {
    let seconds = Label::ALL.map(|label| (label, summary.seconds.of(label)));
    let total: f64 = seconds.iter().map(|(_, s)| s).sum();
    assert_eq!(total, summary.seconds.total);
    seconds.into_iter().filter(|(_, s)| *s > 0.0).collect()
}

fn only_trim(summary: &Summary) -> &TrimSummary {
    let [trim] = &summary.trims[..] else {
        panic!("expected one bank in one region: {:?}", summary.trims);
    };
    trim
}

fn warned(summary: &Summary, warning: &Warning) -> bool {
    summary.warnings.contains(warning)
}
