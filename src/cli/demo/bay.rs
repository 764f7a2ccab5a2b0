//! The simulated car in its bay, with the virtual adapter plugged in.

use super::{super::failure::Failure, ServeOn};
use crate::{
    clock::Clock,
    io_words,
    link::Device,
    simulator::{
        adapter::{
            VirtualAdapter,
            endpoint::{self, Endpoint},
        },
        car::{Car, fault::Fault, fleet::CarSpec, trip::Trip},
    },
};

/// Speed of the virtual adapter's line, baud: the usual one of such adapters.
const BAUD: u32 = 38_400;

/// A car of the fleet after so many µs of its trip; `seed` draws the car, the trip's seed the drive.
pub(super) fn car(
    spec: &'static CarSpec,
    faults: &[Fault],
    trip: Trip,
    seed: u64,
    driven_us: u64,
) -> Result<Car, Failure> {
    let mut car = Car::new(spec, faults, trip, seed)
        .map_err(|error| Failure::usage(format!("--fault: {error}")))?;
    car.advance_to(driven_us);
    Ok(car)
}

/// Puts a car behind a virtual adapter.
pub(super) fn open(car: Car, clock: &Clock, place: ServeOn) -> Result<Endpoint, Failure> {
    let adapter = VirtualAdapter::new(car, BAUD);
    match place {
        #[cfg(unix)]
        ServeOn::Pty => endpoint::open_pty(adapter, clock.clone()),
        ServeOn::Tcp => endpoint::open_tcp(adapter, clock.clone()),
    }
    .map_err(|error| {
        Failure::new(
            "virtual adapter",
            io_words::problem(&error),
            "close other programs and try again",
        )
    })
}

/// The place where this system's programs look for an adapter first.
pub(super) const fn usual_place() -> ServeOn {
    #[cfg(unix)]
    return ServeOn::Pty;
    #[cfg(not(unix))]
    ServeOn::Tcp
}

/// What the link opens to talk to the adapter.
pub(super) fn device(endpoint: &Endpoint, place: ServeOn) -> Device {
    let address = endpoint.address().to_owned();
    match place {
        #[cfg(unix)]
        ServeOn::Pty => Device::Serial {
            path: address,
            baud: Some(BAUD),
        },
        ServeOn::Tcp => Device::Network(address),
    }
}
