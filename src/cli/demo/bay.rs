//! The simulated car in its bay, with the virtual adapter plugged in.

use super::{super::failure::Failure, Place};
use crate::{
    clock::Clock,
    link::Device,
    simulator::{
        VirtualAdapter,
        car::Car,
        endpoint::{self, Endpoint},
        fault::Fault,
        fleet::CarSpec,
        trip::Trip,
    },
};

/// Speed of the virtual adapter's line, baud: the usual one of such adapters.
const BAUD: u32 = 38_400;

/// Puts a car of the fleet behind a virtual adapter; `seed` draws the car, the trip's seed the drive.
pub(super) fn open(
    spec: &'static CarSpec,
    faults: &[Fault],
    trip: Trip,
    seed: u64,
    clock: &Clock,
    place: Place,
) -> Result<Endpoint, Failure> {
    let car = Car::new(spec, faults, trip, seed)
        .map_err(|error| Failure::usage(format!("--fault: {error}")))?;
    let adapter = VirtualAdapter::new(car, BAUD);
    match place {
        #[cfg(unix)]
        Place::Pty => endpoint::open_pty(adapter, clock.clone()),
        Place::Tcp => endpoint::open_tcp(adapter, clock.clone()),
    }
    .map_err(|error| {
        Failure::new(
            "virtual adapter",
            error,
            "close other programs and try again",
        )
    })
}

/// The place where this system's programs look for an adapter first.
pub(super) const fn usual_place() -> Place {
    #[cfg(unix)]
    return Place::Pty;
    #[cfg(not(unix))]
    Place::Tcp
}

/// What the link opens to talk to the adapter.
pub(super) fn device(endpoint: &Endpoint, place: Place) -> Device {
    let address = endpoint.address().to_owned();
    match place {
        #[cfg(unix)]
        Place::Pty => Device::Serial {
            path: address,
            baud: Some(BAUD),
        },
        Place::Tcp => Device::Network(address),
    }
}
