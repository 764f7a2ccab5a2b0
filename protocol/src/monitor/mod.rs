//! Service 06 monitor results: identifiers, units and scalings, misfire counters.

mod id;
pub mod scaling;

pub use id::{
    LAST_NAMED_TEST, MISFIRE_ALL, MISFIRE_AVERAGE, MISFIRE_THIS_CYCLE, is_misfire_count,
    misfire_cylinder, monitor_name, name,
};
pub use scaling::{TestScaling, largest_test_value};
