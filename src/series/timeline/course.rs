//! The course of a trip, second by second: how the engine ran, what was counted, the fuel trims. Kept only on request,
//! since it grows with the length of the recording.

use crate::{
    bank::ByBank,
    series::{
        gather::cell::Cell,
        label::{Label, region::Region},
        timeline::{moment::Moment, quantity::Quantity},
    },
};

/// One second of a trip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    /// Seconds since the recording started.
    pub second: u64,
    /// Why the second counts or does not.
    pub label: Label,
    /// Region; `None` outside every region. Known also in seconds that do not count.
    pub region: Option<Region>,
    /// Cell, where engine speed and load are known; also in seconds that do not count.
    pub cell: Option<Cell>,
    /// How the engine ran: means over the second.
    pub running: Running,
    /// y = ln C of each bank, where it is known; also in seconds that do not count.
    pub trim_log: ByBank<Option<f64>>,
}

/// How an engine runs; a missing reading is `None`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Running {
    /// Engine speed, rpm.
    pub engine_rpm: Option<f64>,
    /// Vehicle speed, km/h.
    pub speed_km_h: Option<f64>,
    /// Calculated load, percent.
    pub load_pct: Option<f64>,
    /// Coolant, °C.
    pub coolant_c: Option<f64>,
}

impl Running {
    /// Fills each value from a function of its quantity.
    pub(in crate::series) fn by(value: impl Fn(Quantity) -> Option<f64>) -> Self {
        Self {
            engine_rpm: value(Quantity::EngineSpeed),
            speed_km_h: value(Quantity::VehicleSpeed),
            load_pct: value(Quantity::Load),
            coolant_c: value(Quantity::Coolant),
        }
    }

    /// Means over a moment.
    pub(in crate::series) fn of(moment: &Moment) -> Self {
        Self::by(|quantity| moment.get(quantity))
    }
}

/// The seconds of a trip in order; silent stretches are left out.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Course {
    /// The seconds.
    pub seconds: Vec<Second>,
}
