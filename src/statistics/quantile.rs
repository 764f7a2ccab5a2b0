//! Quantiles that are found within a bounded number of steps, whatever the parameters.

use statrs::{
    distribution::{ContinuousCDF, Normal},
    function::{beta::beta_reg, gamma::gamma_lr},
};

/// Number of halvings after which no quantile of double precision can become more exact.
const MOST_STEPS: u32 = 1_100;

/// Shape above which the cube root of a gamma variable is as good as normal: its quantiles differ by less than 1e-8 of
/// their value.
const LARGE_SHAPE: f64 = 1e5;

/// The quantile of the gamma distribution of scale 1. Above `LARGE_SHAPE` by Wilson and Hilferty, *Proceedings of the
/// National Academy of Sciences* 17 (1931) 684–688.
///
/// `None` for a shape that is not above 0 and finite, or a level outside 0 to 1.
pub fn gamma(shape: f64, level: f64) -> Option<f64> {
    if !(shape > 0.0 && shape.is_finite() && level > 0.0 && level < 1.0) {
        return None;
    }
    if shape > LARGE_SHAPE {
        let ninth = 1.0 / (9.0 * shape);
        let normal = Normal::standard().inverse_cdf(level);
        return Some(shape * (1.0 - ninth + normal * ninth.sqrt()).powi(3));
    }
    let mut high = shape + 1.0;
    while gamma_lr(shape, high) < level {
        high *= 2.0;
    }
    Some(bisected(high, |x| gamma_lr(shape, x) < level))
}

/// The quantile of the beta distribution.
///
/// `None` for parameters that are not above 0 and finite, or a level outside 0 to 1.
pub fn beta(above: f64, below: f64, level: f64) -> Option<f64> {
    let fits = |one: f64| one > 0.0 && one.is_finite();
    (fits(above) && fits(below) && level > 0.0 && level < 1.0)
        .then(|| bisected(1.0, |x| beta_reg(above, below, x) < level))
}

/// The largest number up to `high` for which `is_below` holds.
fn bisected(mut high: f64, is_below: impl Fn(f64) -> bool) -> f64 {
    let mut low = 0.0;
    for _ in 0..MOST_STEPS {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if is_below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shape 1 is the exponential distribution, −ln(1 − p); shape n/2 with twice the value is χ² with n degrees of freedom:
    /// 3.841 and 18.307 at 95 % for 1 and 10 (any published table).
    #[test]
    fn gamma_quantiles_are_those_of_known_distributions() {
        for level in [1e-6, 0.025, 0.5, 0.975, 1.0 - 1e-6] {
            let expected = -(1.0_f64 - level).ln();
            let found = gamma(1.0, level).unwrap();
            assert!((found / expected - 1.0).abs() < 1e-9, "{level}: {found}");
        }
        for (degrees_of_freedom, expected) in [(1.0, 3.841), (10.0, 18.307)] {
            let found = 2.0 * gamma(degrees_of_freedom / 2.0, 0.95).unwrap();
            assert!(
                (found - expected).abs() < 6e-4,
                "{degrees_of_freedom}: {found}"
            );
        }
    }

    #[test]
    fn large_shapes_go_on_where_the_others_end() {
        for level in [0.025, 0.5, 0.975] {
            let below = gamma(LARGE_SHAPE, level).unwrap();
            let above = gamma(LARGE_SHAPE + 1e-3, level).unwrap();
            assert!((above / below - 1.0).abs() < 2e-8, "{below} {above}");
        }
        let huge = gamma(1e16, 0.975).unwrap();
        assert!((huge / 1e16 - 1.0).abs() < 1e-7, "{huge}");
    }

    /// Beta(1, 1) is uniform, Beta(2, 1) has the quantile √p.
    #[test]
    fn beta_quantiles_are_those_of_known_distributions() {
        for level in [0.025_f64, 0.5, 0.975] {
            assert!((beta(1.0, 1.0, level).unwrap() - level).abs() < 1e-9);
            assert!((beta(2.0, 1.0, level).unwrap() - level.sqrt()).abs() < 1e-9);
        }
    }

    #[test]
    fn what_is_no_distribution_has_no_quantile() {
        for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(gamma(wrong, 0.5), None);
            assert_eq!(beta(wrong, 1.0, 0.5), None);
        }
        assert_eq!(gamma(1.0, 1.0), None);
    }
}
