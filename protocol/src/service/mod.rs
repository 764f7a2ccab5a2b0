//! Requests and answers of the diagnostic services.

pub mod answer;
mod code_list;
pub mod current_data;
mod fault_memory;
pub(crate) mod identifier;
pub mod monitor_results;
pub mod negative;
pub mod request;
mod services;
mod split;
mod trouble_codes;
mod vehicle_information;

pub use answer::Answer;
pub use code_list::CodeList;
pub use fault_memory::{ReportedCode, Snapshot};
pub use monitor_results::MonitorResult;
pub use request::Request;
pub use services::Services;
pub use vehicle_information::{Counter, Information};
