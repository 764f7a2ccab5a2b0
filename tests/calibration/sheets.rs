//! Sheets of bench readings for drawn cars: what a technician writes down of the true car with its true faults.
//!
//! Drawn apart from what the judgement assumes, and wider: gauges are off, hands round, temperatures are wrong, cylinders
//! get mixed up. Every car's sheet comes from a stream of its own, so that the recorded cases stay as they are. All chances
//! and sizes are common practice or assumed where no source stands beside them.

mod parts;
mod technician;

use pintle::{
    bench::{InjectorReadings, RailReadings, Readings},
    cause::Cause,
};

use crate::{
    case::{DrawnCar, mixed},
    dice::Dice,
    occasion::Occasion,
};
use parts::Parts;

/// Sets the stream of the sheet apart from the car's.
const STREAM: u64 = 0x0073_6865_6574;
/// How often a technician who suspects injectors takes a kind of reading.
const TAKEN: f64 = 0.4;
/// How often he goes on, having begun: with the pulses after the clicks, the load or the hold after the rail's pressure.
const GOES_ON: f64 = 0.5;

/// What is measured beside the recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plan {
    /// Nothing.
    PortAlone,
    /// Each kind of reading by chance, whatever is wrong.
    SomeReadings,
    /// Every kind that the car allows.
    WholeSheet,
}

impl Plan {
    pub const ALL: [Self; 3] = [Self::PortAlone, Self::SomeReadings, Self::WholeSheet];

    pub const fn id(self) -> &'static str {
        match self {
            Self::PortAlone => "port_alone",
            Self::SomeReadings => "some_readings",
            Self::WholeSheet => "whole_sheet",
        }
    }
}

/// The sheet of the `index`th car with a fault or a pair. The readings of a plan are among those of the next.
pub fn draw(
    plan: Plan,
    occasion: Occasion,
    causes: &[Cause],
    index: u64,
    seed: u64,
) -> Option<Readings> {
    if plan == Plan::PortAlone {
        return None;
    }
    let (car, _) = DrawnCar::new(occasion, causes, index, seed);
    let mut dice = Dice::new(mixed(causes, index, seed ^ STREAM));
    let parts = Parts::of(&car, &mut dice);
    let mut sheet = technician::measures(&parts, &mut dice);
    if plan == Plan::SomeReadings {
        leave_out(&mut sheet, &mut dice);
    }
    Some(sheet)
}

/// Crosses out what was not measured.
fn leave_out(sheet: &mut Readings, dice: &mut Dice) {
    let [ohms, click, power, drop, rail, volume, seat] = [TAKEN; 7].map(|taken| dice.chance(taken));
    let [pulse, loaded, hold] = [GOES_ON; 3].map(|goes_on| dice.chance(goes_on));
    for one in &mut sheet.injectors {
        *one = InjectorReadings {
            cylinder: one.cylinder,
            ohms: one.ohms.filter(|_| ohms),
            click: one.click.filter(|_| click),
            pulse: one.pulse.filter(|_| click && pulse),
            rpm_drop: one.rpm_drop.filter(|_| power),
            drop_kpa: one.drop_kpa.filter(|_| drop),
            volume_ml: one.volume_ml.filter(|_| volume),
            drops_per_minute: one.drops_per_minute.filter(|_| seat),
            ..InjectorReadings::default()
        };
    }
    let read = sheet.rail;
    sheet.rail = RailReadings {
        pressure_kpa: read.pressure_kpa.filter(|_| rail),
        loaded_kpa: read.loaded_kpa.filter(|_| rail && loaded),
        after_ten_minutes_kpa: read.after_ten_minutes_kpa.filter(|_| rail && hold),
    };
}
