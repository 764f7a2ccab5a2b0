//! Bench readings: what was measured by hand at coils, rail and flow bench, and what each reading says.

mod coil;
mod findings;
mod flow;
mod form;
mod rail;

pub use coil::Electrical;
pub use findings::{Findings, Injector, findings};
pub use flow::Flow;
pub use form::{Form, FormError, empty_form};
pub use rail::Rail;
