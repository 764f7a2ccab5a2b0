//! A simulated car with a virtual adapter plugged in, for tests that talk to one.

use pintle::{
    clock::Clock,
    link::Device,
    simulator::{
        adapter::{Mishaps, VirtualAdapter},
        car::{Car, fleet, trip::Trip},
    },
};

use crate::plugged_in::PluggedIn;

/// Speed of the adapter's line, baud.
pub const BAUD: u32 = 38_400;

/// A car of the fleet behind an adapter on a pseudo-terminal.
pub struct Bay {
    /// The adapter.
    pub endpoint: PluggedIn,
    /// The time that the adapter goes by.
    pub clock: Clock,
}

impl Bay {
    /// In simulated time: whatever is asked, also by a program in a process of its own, is answered at once.
    pub fn simulated(car: &str) -> Self {
        Self::at(car, Clock::simulated())
    }

    /// In real time, as fast as a line and a car are.
    pub fn real(car: &str) -> Self {
        Self::at(car, Clock::real())
    }

    /// By this clock.
    pub fn at(car: &str, clock: Clock) -> Self {
        Self::with(parked(car), Mishaps::default(), clock)
    }

    /// Any car, behind an adapter that misbehaves so.
    pub fn with(car: Car, mishaps: Mishaps, clock: Clock) -> Self {
        let adapter = VirtualAdapter::new(car, BAUD).with_mishaps(mishaps);
        let endpoint = PluggedIn::serial(adapter, clock.clone());
        Self { endpoint, clock }
    }

    /// Path of the adapter's device.
    pub fn path(&self) -> &str {
        self.endpoint.address()
    }
}

/// The car that stands in the bay: driven as usual on a warm engine.
pub fn parked(car: &str) -> Car {
    Car::new(fleet::car(car).unwrap(), &[], Trip::warm(1), 1).unwrap()
}

/// The device at a path, at the bay's speed.
pub fn device(path: &str) -> Device {
    Device::Serial {
        path: path.to_owned(),
        baud: Some(BAUD),
    }
}
