//! Rail pressure against a prediction: against the right one, or against the usual one where that is not known, and
//! load against idle. The controller sets a rail of high pressure as it likes, so a gauge cannot show what is right
//! there.

use std::f64::consts::SQRT_2;

use super::{
    super::rail::{CONTROLLED, FIXED, FOLLOWS, HIGH_KPA, MOVED, USUAL_KPA, USUAL_SPREAD},
    log_mixture, square, t,
};

/// Standard deviation of a sound rail from the middle of its range, beyond the range's own width, and of a ratio of two
/// readings, as a share (assumed).
const PRESSURE_SPREAD: f64 = 0.02;
/// Standard error of a gauge against the truth, as a share: class 1.6 by EN 837-1 allows 16 kPa on a scale of 1000 kPa,
/// 4 % of a usual rail; half of that as a standard deviation. It cancels in a ratio.
const GAUGE_CLASS: f64 = 0.02;
/// Standard deviation between regulators that follow the manifold, as a share (assumed).
const FOLLOWING_SPREAD: f64 = 0.04;

/// One way in which a sound rail may read: idle relative to the middle of the range, load relative to idle.
struct GaugeVariant {
    weight: f64,
    idle: f64,
    loaded: f64,
    spread: f64,
}

/// One way with its weight, ratios and spread.
const fn gauge_variant(weight: f64, [idle, loaded]: [f64; 2], spread: f64) -> GaugeVariant {
    GaugeVariant {
        weight,
        idle,
        loaded,
        spread,
    }
}

/// Ways in which a sound rail may read: a fixed regulator, one that a controller moves, or one that follows the
/// manifold (factory pages: 265 to 270 kPa with vacuum, 324 to 350 without). For the last, the range may be stated with
/// or without vacuum, and the hose may be off or on when the gauge is read. The weights are assumed.
const WAYS: [GaugeVariant; 4] = [
    gauge_variant(FIXED + 0.25 * FOLLOWS, [1.0, 1.0], 0.0),
    gauge_variant(CONTROLLED, [1.0, 1.0], MOVED),
    gauge_variant(0.5 * FOLLOWS, [1.0, 1.22], FOLLOWING_SPREAD),
    gauge_variant(0.25 * FOLLOWS, [0.82, 1.22], FOLLOWING_SPREAD),
];

/// Rail pressures as read, kPa.
#[derive(Debug, Clone, Copy)]
pub struct Pressures {
    /// Pressure at idle, kPa.
    pub idle: Option<f64>,
    /// Pressure under load, kPa.
    pub loaded: Option<f64>,
    /// Lowest and highest right pressure, kPa; `None` where no range is stated.
    pub right: Option<[f64; 2]>,
    /// Standard error of one reading from the gauge's step, kPa.
    pub step_error: f64,
}

impl Pressures {
    /// Log-likelihood where the pressures are these ratios to the right one, at idle and under load.
    pub fn log_likelihood(&self, expected: [f64; 2]) -> f64 {
        let low = |kpa: &f64| *kpa > 0.0 && *kpa < HIGH_KPA;
        let Some(idle) = self.idle.filter(low) else {
            return 0.0;
        };
        let [ratio_idle, ratio_loaded] = expected;
        let (right, known_to) = match self.right.filter(|[_, most]| *most < HIGH_KPA) {
            Some([least, most]) => {
                let middle = 0.5 * (least + most);
                (
                    middle,
                    (0.25 * (most - least) / middle).hypot(PRESSURE_SPREAD),
                )
            }
            None => (USUAL_KPA, USUAL_SPREAD),
        };
        let gauge_variant = |gauge_variant: &GaugeVariant| {
            let against_right = {
                let step = self.step_error / right;
                let spread = root_of_squares([step, known_to, GAUGE_CLASS, gauge_variant.spread]);
                density(
                    (idle / right - gauge_variant.idle * ratio_idle) / spread,
                    spread,
                )
            };
            let under_load = self.loaded.map_or(0.0, |loaded| {
                let expected = gauge_variant.loaded * ratio_loaded / ratio_idle;
                let error = SQRT_2 * self.step_error / idle;
                let spread = root_of_squares([error, PRESSURE_SPREAD, gauge_variant.spread, 0.0]);
                density((loaded / idle - expected) / spread, spread)
            });
            (gauge_variant.weight, against_right + under_load)
        };
        log_mixture(WAYS.iter().map(gauge_variant))
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
    /// a regulator that follows the manifold, by hand 0.0625 ways for a hose left on against 0.125 for one set too low.
    #[test]
    fn a_hose_left_on_looks_like_low_pressure_until_the_engine_is_loaded() {
        let low = [0.82, 0.82];
        let for_low = |read: Pressures| read.log_likelihood(low) - read.log_likelihood([1.0; 2]);
        let [alone, rises, stays] =
            [None, Some(384.0), Some(312.0)].map(|kpa| for_low(read(315.0, kpa)));
        assert!(alone > 1.0 && stays > alone + 1.0, "{alone} {stays}");
        assert!((rises - 2.0_f64.ln()).abs() < 0.3, "{rises}");
    }

    /// By class 1.6 a gauge may show 16 kPa too little, so 365 of 370 to 400 kPa accuse nobody.
    #[test]
    fn a_gauge_may_be_off_by_its_class() {
        let low = read(365.0, None);
        let for_low = low.log_likelihood([0.92, 0.92]) - low.log_likelihood([1.0; 2]);
        assert!(for_low < 1.0, "{for_low}");
    }

    /// Nothing stated: 360 kPa ± 25 % are usual (by hand 320 is 0.44 spreads off), but 560 kPa speak for 1.4 of it.
    #[test]
    fn without_a_range_only_what_no_rail_is_built_for_counts() {
        let for_ratio = |idle: f64, ratio: f64| {
            let unstated = Pressures {
                right: None,
                ..read(idle, None)
            };
            unstated.log_likelihood([ratio; 2]) - unstated.log_likelihood([1.0; 2])
        };
        assert!(for_ratio(320.0, 0.85).abs() < 0.5);
        assert!(for_ratio(560.0, 1.4) > 1.5);
    }

    #[test]
    fn without_a_reading_at_idle_or_with_direct_injection_nothing_is_said() {
        let silent = |idle: Option<f64>| Pressures {
            idle,
            loaded: Some(9_000.0),
            right: Some([4_000.0, 20_000.0]),
            step_error: 1.4,
        };
        for kpa in [None, Some(5_000.0)] {
            assert_eq!(silent(kpa).log_likelihood([0.7; 2]), 0.0);
        }
    }
}
