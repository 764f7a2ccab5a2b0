//! Bench readings: what was measured by hand at windings, rail and flow bench, and the verdict on each reading.

mod coil;
mod contradiction;
mod doubt;
mod entry;
mod findings;
mod flow;
mod injector;
mod leakage;
mod mistake;
mod notes;
mod power;
mod rail;
mod readings;
mod sheet;
mod template;
#[cfg(test)]
mod tests;

pub use coil::Electrical;
pub use findings::{Findings, findings};
pub use flow::{DATA_SHEET_ERROR, Flow};
pub use injector::Injector;
pub use leakage::Leakage;
pub use mistake::FormError;
pub use power::Power;
pub use rail::{Hold, Rail};
pub use readings::{InjectorReadings, RailReadings, Readings, Steps};
pub use template::empty_form;
