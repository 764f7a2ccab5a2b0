//! The mean of a correction and its honest doubt inside one trip.
//!
//! Readings of a trim remember each other: the controller swings around its aim and wanders with fuel vapour, cooling
//! fan and compressor. The doubt of a mean therefore comes from means over stretches of 30 s or longer. A region seen
//! only briefly has too few such stretches to measure their spread; a usual spread, known from many trips of a healthy
//! car, then stands in and gives way as stretches come in.

use crate::statistics::correlation::BatchMeans;

use crate::series::{label::region::Region, variation};

/// Length of a stretch, seconds.
const STRETCH_S: u32 = 30;
/// Most stretches before they are merged in pairs.
const MOST_STRETCHES: usize = 32;
/// How many stretches the usual spread counts for.
const USUAL_WEIGHT: f64 = 4.0;
/// Usual variance of a mean times the seconds it was taken over, in squared logarithm × s: a warm idle needs 12 min,
/// driving 5 min, to be known to one point at 95 % (measured on 129 trips of one healthy car).
const USUAL_IDLE: f64 = 0.005 * 0.005 * 720.0;
const USUAL_DRIVING: f64 = 0.005 * 0.005 * 300.0;
/// The difference of two banks is quieter, as what both share cancels: half of it, an assumption on the safe side.
const USUAL_DIFFERENCE: f64 = USUAL_DRIVING / 2.0;

/// Beside that, the trim of a whole trip wanders slowly, so that its halves differ more than the stretches tell: variance in
/// squared logarithm.
const SLOW_VARIANCE: f64 = variation::WANDER * variation::WANDER;

/// A mean correction with its doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Mean of y.
    pub mean_log: f64,
    /// Standard error.
    pub std_error_log: f64,
    /// Degrees of freedom of the standard error.
    pub freedom: f64,
    /// Independent seconds that the mean is worth.
    pub effective: f64,
    /// Seconds.
    pub seconds: f64,
}

/// The part of a mean's squared standard error that comes from the slow wandering of the whole trip: what all regions
/// of the trip share, and more seconds of the same kind of driving average out only slowly.
pub fn slow_variance(seconds: f64) -> f64 {
    // a process of this memory counts as one draw in every two time constants
    SLOW_VARIANCE / (1.0 + seconds / (2.0 * variation::WANDER_S))
}

/// Usual variance of a region's mean inside one trip times the seconds it was taken over, in squared logarithm × s: the
/// part that averages out with them.
pub fn usual(region: Option<Region>) -> f64 {
    match region {
        Some(Region::WarmIdle | Region::RaisedIdle) | None => USUAL_IDLE,
        Some(Region::LightCruise | Region::Loaded) => USUAL_DRIVING,
    }
}

/// A running mean of y over seconds.
#[derive(Debug, Clone)]
pub struct RunningMean {
    batches: BatchMeans,
    usual: f64,
    slow: f64,
}

impl RunningMean {
    fn new(usual: f64, slow: f64) -> Self {
        Self {
            batches: BatchMeans::new(STRETCH_S, MOST_STRETCHES),
            usual,
            slow,
        }
    }

    /// Of corrections in a region.
    pub fn of_region(region: Option<Region>) -> Self {
        Self::new(usual(region), SLOW_VARIANCE)
    }

    /// Of some of the corrections in a region, to be held against the others of the same trip.
    pub fn of_part(region: Region) -> Self {
        Self::new(usual(Some(region)), 0.0)
    }

    /// Of differences between two banks, which share the slow wandering.
    pub fn of_difference() -> Self {
        Self::new(USUAL_DIFFERENCE, 0.0)
    }

    /// Adds one second.
    pub fn push(&mut self, y: f64) {
        self.batches.push(y);
    }

    /// What is known of the mean.
    pub fn estimate(&self) -> Option<Estimate> {
        let mean_log = self.batches.mean()?;
        let seconds = self.batches.count() as f64;
        let length = f64::from(self.batches.batch_length());
        let measured = self.batches.batches().saturating_sub(1) as f64;
        let usual = self.usual / length;
        let spread = self.batches.batch_variance().unwrap_or(0.0);
        let freedom = USUAL_WEIGHT + measured;
        let stretches = (USUAL_WEIGHT * usual + measured * spread) / freedom * length / seconds;
        let variance = stretches + self.slow / SLOW_VARIANCE * slow_variance(seconds);
        let single = self.batches.variance().unwrap_or(0.0);
        Some(Estimate {
            mean_log,
            std_error_log: variance.sqrt(),
            freedom,
            effective: (single / variance).clamp(1.0, seconds),
            seconds,
        })
    }
}
