//! The virtual adapter alone, in real time, for other commands to plug into.

use super::{
    super::{failure::Failure, serve},
    ServeOn, bay,
};
use crate::{
    clock::Clock,
    simulator::car::{
        fault::Fault,
        fleet::CarSpec,
        trip::{Driving, Stretch, Trip},
    },
};

/// How long a car that is parked was driven before, s: enough for its monitors to store a code.
const DRIVEN_S: f64 = 600.0;
/// How long it has stood already, s: the engine has come to rest.
const STOOD_S: f64 = 10.0;
/// How long it then stands, s: longer than anybody plugs in.
const PARKED_S: f64 = 1e6;

/// What others plug into.
pub(super) struct Scene {
    /// The car.
    pub spec: &'static CarSpec,
    /// What is wrong with it.
    pub fault: Fault,
    /// Draws car and drive.
    pub seed: u64,
    /// Whether it stands after a drive, engine off and key on.
    pub parked: bool,
}

impl Scene {
    /// Opens the adapter, says where it is, and waits for Ctrl-C.
    pub async fn serve(&self, place: ServeOn) -> Result<(), Failure> {
        let (clock, drive) = (Clock::real(), Trip::warm(self.seed));
        let (trip, passed_s, does) = if self.parked {
            (
                stands_after(drive),
                DRIVEN_S + STOOD_S,
                "is parked with the ignition on",
            )
        } else {
            (drive, 0.0, "is being driven")
        };
        let passed_us = (passed_s * 1e6) as u64;
        let car = bay::car(self.spec, &[self.fault], trip, self.seed, passed_us)?;
        let endpoint = bay::open(car, &clock, place)?;
        let option = match place {
            #[cfg(unix)]
            ServeOn::Pty => "--port",
            ServeOn::Tcp => "--tcp",
        };
        let (label, fault) = (self.spec.label, self.fault.cause.words());
        let what = format!("{label} with {fault} {does}");
        serve::until_stopped(option, &endpoint, what, std::future::pending()).await
    }
}

/// The drive, broken off by parking.
fn stands_after(drive: Trip) -> Trip {
    let stretch = |driving, seconds| Stretch { driving, seconds };
    Trip {
        stretches: vec![
            stretch(Driving::Idle, DRIVEN_S),
            stretch(Driving::Parked, PARKED_S),
        ],
        ..drive
    }
}
