//! Sums of numbers whose logarithms are known, and which would overflow or underflow themselves.

/// ln Σ exp(x), safe for large negative x.
pub fn log_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + values.map(|value| (value - most).exp()).sum::<f64>().ln()
}
