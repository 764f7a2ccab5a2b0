//! The mean of a fuel trim and its standard error within one trip.
//!
//! Readings of a trim are correlated: the controller swings around its target and wanders with fuel vapour, cooling fan
//! and compressor. The standard error of a mean therefore comes from means over stretches of 30 s or longer. A region
//! recorded only briefly has too few such stretches to measure their spread; a usual spread, known from many trips of a
//! healthy car, stands in and loses weight as stretches come in.

use crate::statistics::correlation::BatchMeans;

use crate::series::{label::region::Region, variation};

/// Length of a stretch, seconds (assumed; longer than the period of a fuel trim's swing).
const STRETCH_S: u32 = 30;
/// Largest number of stretches before they are merged in pairs (assumed).
const MOST_STRETCHES: usize = 32;
/// Number of stretches that the usual spread counts for (assumed).
const USUAL_WEIGHT: f64 = 4.0;
/// Usual variance of a mean at warm idle times its seconds, in squared logarithm × s: a warm idle needs 12 min to be
/// known to one point at 95 % (measured on 129 trips of one healthy car).
const USUAL_IDLE: f64 = 0.005 * 0.005 * 720.0;
/// Usual variance of a mean while driving times its seconds, in squared logarithm × s: driving needs 5 min to be known
/// to one point at 95 % (measured on 129 trips of one healthy car).
const USUAL_DRIVING: f64 = 0.005 * 0.005 * 300.0;
/// Usual variance of the difference of two banks times its seconds, in squared logarithm × s: half of that while
/// driving, as common influences cancel (assumed, on the safe side).
const USUAL_DIFFERENCE: f64 = USUAL_DRIVING / 2.0;

/// Variance of the slow variation of a whole trip's fuel trim, in squared logarithm: halves of a trip differ by more
/// than its stretches show.
const SLOW_VARIANCE: f64 = variation::WANDER * variation::WANDER;

/// A mean fuel trim with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Mean of y = ln C.
    pub mean_log: f64,
    /// Standard error of the mean, as a logarithm.
    pub std_error_log: f64,
    /// Degrees of freedom of the standard error.
    pub degrees_of_freedom: f64,
    /// Number of independent seconds with the same standard error.
    pub effective: f64,
    /// Seconds that entered the mean.
    pub seconds: f64,
}

/// The part of a mean's squared standard error that comes from the slow variation of the whole trip: all regions of the
/// trip share it, and more seconds average it out only slowly.
pub fn slow_variance(seconds: f64) -> f64 {
    // a process of this memory counts as one draw in every two time constants
    SLOW_VARIANCE / (1.0 + seconds / (2.0 * variation::WANDER_S))
}

/// Usual variance of a region's mean within one trip times its seconds, in squared logarithm × s: the part that
/// averages out with more seconds.
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

    /// A mean of fuel trims in a region.
    pub fn of_region(region: Option<Region>) -> Self {
        Self::new(usual(region), SLOW_VARIANCE)
    }

    /// A mean of some of the fuel trims in a region, to be compared with the others of the same trip.
    pub fn of_part(region: Region) -> Self {
        Self::new(usual(Some(region)), 0.0)
    }

    /// A mean of differences between two banks, which share the slow variation.
    pub fn of_difference() -> Self {
        Self::new(USUAL_DIFFERENCE, 0.0)
    }

    /// Adds one second.
    pub fn push(&mut self, y: f64) {
        self.batches.push(y);
    }

    /// The mean with its standard error; `None` without seconds.
    pub fn estimate(&self) -> Option<Estimate> {
        let mean_log = self.batches.mean()?;
        let seconds = self.batches.count() as f64;
        let length = f64::from(self.batches.batch_length());
        let measured = self.batches.batches().saturating_sub(1) as f64;
        let usual = self.usual / length;
        let spread = self.batches.batch_variance().unwrap_or(0.0);
        let degrees_of_freedom = USUAL_WEIGHT + measured;
        let stretches =
            (USUAL_WEIGHT * usual + measured * spread) / degrees_of_freedom * length / seconds;
        let variance = stretches + self.slow / SLOW_VARIANCE * slow_variance(seconds);
        let single = self.batches.variance().unwrap_or(0.0);
        Some(Estimate {
            mean_log,
            std_error_log: variance.sqrt(),
            degrees_of_freedom,
            effective: (single / variance).clamp(1.0, seconds),
            seconds,
        })
    }
}
