//! The engine, stepped in time: air, fuel, fire, gas, sensor, trims.

mod air;
mod bank;
pub mod condition;
pub mod controller;
mod fuel;
mod learned;
mod machine;
mod misfire;
mod oxygen_sensor;
mod readings;
mod sharing;
mod throttle;
mod torque;
mod trims;
mod wander;

pub use machine::{Command, Engine};
pub use readings::{BankReadings, Readings};

#[cfg(test)]
mod tests;
