//! What decides whether a check makes sense for this car and these recordings.

use crate::series::label::region::ByRegion;

/// What decides whether a check makes sense.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Circumstances {
    /// Seconds recorded by region.
    pub seconds: ByRegion<f64>,
    /// Misfire counters were read.
    pub counters: bool,
    /// A cylinder misfires so much that the catalyst is in danger.
    pub heavy_misfire: bool,
    /// Banks of the engine.
    pub banks: usize,
    /// The engine is known to inject into its cylinders.
    pub direct: bool,
    /// The engine is known to have no MAF sensor.
    pub without_maf_sensor: bool,
    /// Most probable number of cylinders.
    pub cylinders: f64,
    /// Checks already done: they are not advised again.
    pub done: Vec<String>,
}
