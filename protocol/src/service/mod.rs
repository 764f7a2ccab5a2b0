//! Requests and answers of the diagnostic services.

pub mod answer;
pub mod current_data;
pub mod monitor_results;
pub mod negative;
pub mod request;
mod split;
mod trouble_codes;
mod vehicle_information;

pub use answer::{Answer, CodeList};
pub use monitor_results::MonitorResult;
pub use request::Request;
pub use vehicle_information::{Counter, Information};
