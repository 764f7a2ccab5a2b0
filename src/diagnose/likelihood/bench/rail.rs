//! Rail pressure against a prediction: against the right one where that is known, and load against idle.

use std::f64::consts::SQRT_2;

use super::{log_mean, square, t};

/// How far a sound rail may lie from the middle of its range beside the range's own width, and how well a ratio of two
/// readings is known.
const PRESSURE_SPREAD: f64 = 0.02;
/// Error of a gauge against the truth: class 1.6 by EN 837-1 allows 16 kPa on a scale of 1000 kPa, 4 % of a usual rail;
/// half of that as a standard deviation. It falls out of a ratio.
const GAUGE_CLASS: f64 = 0.02;
/// How far regulators that follow the manifold lie apart.
const FOLLOWING_SPREAD: f64 = 0.04;

/// How a sound rail may read: idle against the range's middle, load against idle.
struct Way {
    weight: f64,
    idle: f64,
    loaded: f64,
    spread: f64,
}

/// A fixed regulator, or one that follows the manifold (factory pages: 265 to 270 kPa with vacuum, 324 to 350 without).
/// With the latter the range may be meant with vacuum or without, and the hose may be on or off when the gauge is read.
const WAYS: [Way; 3] = [
    Way {
        weight: 0.75,
        idle: 1.0,
        loaded: 1.0,
        spread: 0.0,
    },
    Way {
        weight: 0.20,
        idle: 1.0,
        loaded: 1.22,
        spread: FOLLOWING_SPREAD,
    },
    Way {
        weight: 0.05,
        idle: 0.82,
        loaded: 1.22,
        spread: FOLLOWING_SPREAD,
    },
];

/// The rail's pressures as read, kPa.
#[derive(Debug, Clone, Copy)]
pub struct Pressures {
    /// At idle.
    pub idle: Option<f64>,
    /// Under load.
    pub loaded: Option<f64>,
    /// Lowest and highest right one.
    pub right: Option<[f64; 2]>,
    /// Standard deviation of one reading by the gauge's step.
    pub step_error: f64,
}

impl Pressures {
    /// Logarithm of the likelihood when pressures against the right one are these, at idle and under load.
    pub fn log_likelihood(&self, expected: [f64; 2]) -> f64 {
        let Some(idle) = self.idle.filter(|kpa| *kpa > 0.0) else {
            return 0.0;
        };
        let [ratio_idle, ratio_loaded] = expected;
        let way = |way: &Way| {
            let against_range = self.right.map_or(0.0, |[low, high]| {
                let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
                let error = (half / 2.0).hypot(self.step_error) / middle;
                let spread = root_of_squares([error, PRESSURE_SPREAD, GAUGE_CLASS, way.spread]);
                density((idle / middle - way.idle * ratio_idle) / spread, spread)
            });
            let under_load = self.loaded.map_or(0.0, |loaded| {
                let expected = way.loaded * ratio_loaded / ratio_idle;
                let error = SQRT_2 * self.step_error / idle;
                let spread = root_of_squares([error, PRESSURE_SPREAD, way.spread, 0.0]);
                density((loaded / idle - expected) / spread, spread)
            });
            (way.weight, against_range + under_load)
        };
        log_mean(WAYS.iter().map(way))
    }
}

fn density(standardised: f64, spread: f64) -> f64 {
    t(standardised) - spread.ln()
}

fn root_of_squares(parts: [f64; 4]) -> f64 {
    parts.into_iter().map(square).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(idle: f64, loaded: Option<f64>) -> Pressures {
        Pressures {
            idle: Some(idle),
            loaded,
            right: Some([370.0, 400.0]),
            step_error: 1.4,
        }
    }

    /// 315 of 385 kPa are 0.82: what the manifold's vacuum takes, or a pump that is weak. 384 under load are 1.22 of them:
    /// a regulator that follows the manifold, by hand 0.05 ways for a hose left on against 0.20 for one set too low.
    #[test]
    fn a_hose_left_on_looks_like_low_pressure_until_the_engine_is_loaded() {
        let low = [0.82, 0.82];
        let for_low = |read: Pressures| read.log_likelihood(low) - read.log_likelihood([1.0; 2]);
        let [alone, rises, stays] =
            [None, Some(384.0), Some(312.0)].map(|kpa| for_low(read(315.0, kpa)));
        assert!(alone > 1.0 && stays > alone + 1.0, "{alone} {stays}");
        assert!((rises - 4.0_f64.ln()).abs() < 0.3, "{rises}");
    }

    /// By class 1.6 a gauge may show 16 kPa too little, so 365 of 370 to 400 kPa accuse nobody.
    #[test]
    fn a_gauge_may_be_off_by_its_class() {
        let low = read(365.0, None);
        let for_low = low.log_likelihood([0.92, 0.92]) - low.log_likelihood([1.0; 2]);
        assert!(for_low < 1.0, "{for_low}");
    }

    #[test]
    fn without_a_reading_at_idle_or_a_range_nothing_is_said() {
        let mut none = read(300.0, None);
        none.right = None;
        assert_eq!(none.log_likelihood([0.7; 2]), none.log_likelihood([1.0; 2]));
        none.idle = None;
        none.loaded = Some(300.0);
        assert_eq!(none.log_likelihood([0.7; 2]), 0.0);
    }
}
