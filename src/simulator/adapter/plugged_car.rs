//! What the virtual adapter is plugged into: a simulated car or a recorded one.

use pintle_protocol::Address;

use crate::simulator::{
    bus::Bus,
    car::{Car, ControllerAnswer},
    recorded::RecordedCar,
};

/// What the unused bytes of a recorded CAN frame were filled with is not known; most controllers fill them.
const FILLING: u8 = 0x00;

/// How the adapter identifies itself on a simulated car.
const ON_A_CAR: &str = "HARBOUR ADAPTER V3.2";
/// How the adapter identifies itself on a recording: what is recorded from a recording is no measurement of its own,
/// and its header shows that.
const ON_A_RECORDING: &str = "RECORDED CAR V3.2";

/// The car at the adapter's plug.
#[derive(Debug)]
pub enum PluggedCar {
    /// Stepped in time.
    Simulated(Box<Car>),
    /// As it once was.
    Recorded(Box<RecordedCar>),
}

impl From<Car> for PluggedCar {
    fn from(car: Car) -> Self {
        Self::Simulated(Box::new(car))
    }
}

impl From<RecordedCar> for PluggedCar {
    fn from(car: RecordedCar) -> Self {
        Self::Recorded(Box::new(car))
    }
}

impl PluggedCar {
    /// The bus at its diagnostic connector.
    pub(super) const fn bus(&self) -> Bus {
        match self {
            Self::Simulated(car) => car.bus(),
            Self::Recorded(car) => car.bus(),
        }
    }

    /// Who the adapter says it is.
    pub(super) const fn adapter_name(&self) -> &'static str {
        match self {
            Self::Simulated(_) => ON_A_CAR,
            Self::Recorded(_) => ON_A_RECORDING,
        }
    }

    /// What controllers fill short CAN frames with, if they do.
    pub(super) const fn padding(&self) -> Option<u8> {
        match self {
            Self::Simulated(car) => car.spec().padding,
            Self::Recorded(_) => Some(FILLING),
        }
    }

    /// Supply voltage, V; `None` where it is not known.
    pub(super) fn volts(&self) -> Option<f64> {
        match self {
            Self::Simulated(car) => Some(car.volts()),
            Self::Recorded(car) => car.volts(),
        }
    }

    /// A program has plugged in: a recording begins anew, a car drives on.
    pub(super) fn plugged_in(&mut self) {
        if let Self::Recorded(car) = self {
            car.start_over();
        }
    }

    /// Time passes.
    pub(super) fn advance_to(&mut self, t_us: u64) {
        match self {
            Self::Simulated(car) => car.advance_to(t_us),
            Self::Recorded(car) => car.advance_to(t_us),
        }
    }

    /// Asks all controllers.
    pub(super) fn answer(&mut self, request: &[u8]) -> Vec<ControllerAnswer> {
        match self {
            Self::Simulated(car) => car.answer(request),
            Self::Recorded(car) => car.answer(request),
        }
    }

    /// Asks one controller alone.
    pub(super) fn answer_of(
        &mut self,
        controller: Address,
        request: &[u8],
    ) -> Vec<ControllerAnswer> {
        match self {
            Self::Simulated(car) => car.answer_of(controller, request),
            Self::Recorded(car) => car.answer_of(controller, request),
        }
    }
}
