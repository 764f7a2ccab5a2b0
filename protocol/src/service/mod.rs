//! Requests and answers of the diagnostic services.

pub mod answer;
pub mod current_data;
pub mod monitor_results;
mod trouble_codes;
mod vehicle_information;

pub use answer::{Answer, CodeList};
pub use monitor_results::MonitorResult;
