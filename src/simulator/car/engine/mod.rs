//! The engine, stepped in time: air, fuel, fire, gas, sensor, trims.

mod air;
mod bank;
mod canister;
pub mod condition;
pub mod controller;
mod fuel;
mod learned;
mod machine;
mod misfire;
pub mod nature;
mod oxygen_sensor;
mod rail;
mod readings;
mod sharing;
mod steady;
mod throttle;
mod torque;
mod trims;
mod wander;

pub use machine::{Command, Engine};
pub use readings::{BankReadings, SensorReadings};
pub use steady::Steady;

#[cfg(test)]
mod tests;
