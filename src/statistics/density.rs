//! Densities and mixtures, as logarithms.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use super::log_sum::log_sum;

/// Logarithm of a multivariate Student t density, up to a constant: `distance` is the squared distance in standard
/// deviations (Mahalanobis) in `dimensions` dimensions.
pub fn log_student_t(distance: f64, dimensions: f64, degrees_of_freedom: f64) -> f64 {
    -0.5 * (degrees_of_freedom + dimensions) * (distance / degrees_of_freedom).ln_1p()
}

/// Density of a normal distribution `standardised` standard deviations from its mean.
pub fn normal(standardised: f64, std_dev: f64) -> f64 {
    Normal::standard().pdf(standardised) / std_dev
}

/// Share of a normal distribution below `standardised` standard deviations from its mean, 0 to 1.
pub fn normal_below(standardised: f64) -> f64 {
    Normal::standard().cdf(standardised)
}

/// ln Σ weight · exp(value) over pairs of weight and value.
pub fn log_mixture(parts: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let logs: Vec<f64> = parts
        .into_iter()
        .map(|(weight, value)| weight.ln() + value)
        .collect();
    log_sum(logs.into_iter())
}

/// Residuals with one common departure besides their own: their covariance is a I + b J.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchangeable {
    /// Number of residuals.
    pub count: f64,
    /// Squared distance in standard deviations (Mahalanobis).
    pub distance: f64,
    /// Half the natural logarithm of the covariance's determinant.
    pub log_size: f64,
}

impl Exchangeable {
    /// Residuals with the standard deviation `own` of each and `shared` of all together. Inverse and determinant of a I
    /// + b J by the Sherman–Morrison formula.
    pub fn of(residuals: impl Iterator<Item = f64>, own: f64, shared: f64) -> Self {
        let (count, sum, squares) = residuals
            .fold((0.0, 0.0, 0.0), |(count, sum, squares), left| {
                (count + 1.0, sum + left, squares + left * left)
            });
        let (own, shared) = (own.powi(2), shared.powi(2));
        let together = own + count * shared;
        Self {
            count,
            distance: squares / own - shared * sum * sum / (own * together),
            log_size: 0.5 * ((count - 1.0) * own.ln() + together.ln()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published tables of the normal distribution: φ(0) = 0.39894, φ(1) = 0.24197, Φ(1.645) = 0.95002, Φ(−1) = 0.15866.
    #[test]
    fn the_normal_distribution_is_that_of_the_tables() {
        assert!((normal(0.0, 1.0) - 0.398_94).abs() < 1e-5);
        assert!((normal(1.0, 2.0) - 0.241_97 / 2.0).abs() < 1e-5);
        assert!((normal_below(1.645) - 0.950_02).abs() < 1e-5);
        assert!((normal_below(-1.0) - 0.158_66).abs() < 1e-5);
    }

    /// By hand for two residuals 1 and 3, own variance 1, shared 2: covariance [[3, 2], [2, 3]], determinant 5, inverse
    /// [[3, −2], [−2, 3]] / 5: distance (3 − 12 + 27) / 5 = 3.6.
    #[test]
    fn residuals_that_share_a_departure_lie_nearer() {
        let found = Exchangeable::of([1.0, 3.0].into_iter(), 1.0, 2_f64.sqrt());
        assert!((found.distance - 3.6).abs() < 1e-12);
        assert!((found.log_size - 0.5 * 5_f64.ln()).abs() < 1e-12);
        assert_eq!(found.count, 2.0);
    }

    /// By hand: 0.25 of e⁰ and 0.75 of 0.
    #[test]
    fn a_mixture_takes_the_impossible() {
        let found = log_mixture([(0.25, 0.0), (0.75, f64::NEG_INFINITY), (0.0, 5.0)]);
        assert!((found - 0.25_f64.ln()).abs() < 1e-12);
    }

    /// t with 5 degrees of freedom in one dimension: density at 2 over that at 0 is (1 + 4/5)^−3 = 0.17147.
    #[test]
    fn heavy_tails_thin_out_by_a_power() {
        assert!((log_student_t(4.0, 1.0, 5.0).exp() - 0.171_47).abs() < 1e-5);
    }
}
