//! How the engine was run in each region: plain means over the seconds that count.

use crate::series::{
    label::region::{ByRegion, Region},
    summary::Operation,
    timeline::{moment::Moment, quantity::Quantity},
};

/// A running mean of known values.
#[derive(Debug, Clone, Copy, Default)]
pub struct Mean {
    sum: f64,
    count: f64,
}

impl Mean {
    /// Adds a value, if there is one.
    pub fn push(&mut self, value: Option<f64>) {
        if let Some(value) = value {
            self.sum += value;
            self.count += 1.0;
        }
    }

    /// The mean, if there was a value.
    pub fn get(self) -> Option<f64> {
        (self.count > 0.0).then(|| self.sum / self.count)
    }
}

/// Quantities of which means are kept, in the order of the fields of [`Operation`].
const QUANTITIES: [Quantity; 7] = [
    Quantity::EngineSpeed,
    Quantity::Load,
    Quantity::AbsoluteLoad,
    Quantity::ManifoldPressure,
    Quantity::AirFlow,
    Quantity::Purge,
    Quantity::Spark,
];

/// Running means by region.
#[derive(Debug, Clone, Default)]
pub struct Operations {
    regions: ByRegion<(f64, [Mean; QUANTITIES.len()])>,
}

impl Operations {
    /// Takes a moment that counts.
    pub fn push(&mut self, moment: &Moment, region: Region) {
        let (seconds, means) = &mut self.regions[region];
        *seconds += 1.0;
        for (mean, quantity) in means.iter_mut().zip(QUANTITIES) {
            mean.push(moment.get(quantity));
        }
    }

    /// Summaries of the regions that were recorded.
    pub fn summary(&self) -> Vec<Operation> {
        self.regions
            .iter()
            .filter_map(|(region, (seconds, means))| {
                let [engine_speed, load, absolute, manifold, air, purge, spark] =
                    means.map(Mean::get);
                Some(Operation {
                    region,
                    seconds: *seconds,
                    engine_rpm: engine_speed?,
                    load_pct: load,
                    absolute_load_pct: absolute,
                    manifold_kpa: manifold,
                    air_g_per_s: air,
                    purge_pct: purge,
                    spark_deg: spark,
                })
            })
            .collect()
    }
}
