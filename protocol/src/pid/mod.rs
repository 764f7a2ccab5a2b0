//! Service 01 and 02 parameter identifiers (PIDs): which there are and how their bytes become numbers.

mod id;

pub use id::Pid;
