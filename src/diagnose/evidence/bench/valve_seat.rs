//! Drops from a closed injector against a prediction.
//!
//! A leak that the engine shows is dozens of drops per minute; a valve seat that leaks a drop or two is found on
//! engines that run well. All probabilities and spreads are common practice where no source is given.

use crate::statistics::density::{normal, normal_below};

/// Drops per minute up to which a valve seat counts as not leaking: one drop in five minutes (factory page).
const TIGHT: f64 = 0.2;
/// Share of sound valve seats that leak more than [`TIGHT`] (common practice).
const WEEPING: f64 = 0.08;
/// Power of the drops per minute with which the number of sound valve seats that leak as much falls off (assumed).
const THINNING: f64 = 0.8;
/// Share of leaks that the bench does not show: only hot, or needles that shut late and do not leak when closed
/// (assumed).
const UNSEEN: f64 = 0.13;
/// Standard deviation of the logarithm of the drops per minute of a leak of one size, from the fuel that the engine
/// uses at idle (0.5), drops from 0.02 to 0.05 mL (0.35) and a valve seat that is cold on the bench (0.65).
const SPREAD: f64 = 0.9;
/// Standard error of a count, drops.
const COUNT: f64 = 0.5;

/// Log-likelihood of `drops` per minute where `expected` are predicted; `expected` is 0 for a valve seat like any
/// other.
pub fn log_likelihood(drops: f64, expected: f64) -> f64 {
    let sound = sound(drops);
    if expected <= 0.0 {
        return sound.ln();
    }
    let ln = |drops: f64| (drops / expected).ln();
    let dripping = if drops <= TIGHT {
        normal_below(ln(TIGHT) / SPREAD)
    } else {
        let spread = SPREAD.hypot(COUNT / drops);
        normal(ln(drops) / spread, spread)
    };
    (UNSEEN * sound + (1.0 - UNSEEN) * dripping).ln()
}

/// Probability that a sound valve seat does not leak, else the density over the logarithm of the drops.
fn sound(drops: f64) -> f64 {
    if drops <= TIGHT {
        1.0 - WEEPING
    } else {
        WEEPING * THINNING * (drops / TIGHT).powf(-THINNING)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, at 2 drops: a sound seat 0.08 × 0.8 × 10^−0.8 = 0.0101; a drip of 56 drops (40 % of the idle fuel) lies
    /// ln 28 / 0.934 = 3.57 spreads above, 0.427 × e^−6.37 = 0.00073, and 0.13 × 0.0101 + 0.87 × 0.00073 = 0.0020.
    #[test]
    fn a_seat_that_weeps_does_not_speak_for_a_drip() {
        assert!((log_likelihood(2.0, 0.0) - 0.0101_f64.ln()).abs() < 0.01);
        assert!((log_likelihood(2.0, 56.0) - 0.0020_f64.ln()).abs() < 0.05);
    }

    /// By hand, at 56 drops: a sound seat 0.064 × 280^−0.8 = 0.00071, a drip of that size 0.87 × 0.443 = 0.386.
    #[test]
    fn a_stream_of_drops_does_and_tells_its_size() {
        let for_drip = log_likelihood(56.0, 56.0) - log_likelihood(56.0, 0.0);
        assert!((for_drip - (0.386_f64 / 0.00071).ln()).abs() < 0.05);
        assert!(log_likelihood(56.0, 56.0) > log_likelihood(56.0, 17.0) + 0.5);
    }

    /// A tight seat leaves the drips that only a hot one shows: about 0.13 of them against 0.92 of sound seats.
    #[test]
    fn a_tight_seat_acquits_but_for_what_the_bench_cannot_see() {
        let acquits = log_likelihood(0.0, 56.0) - log_likelihood(0.0, 0.0);
        assert!((acquits - 0.13_f64.ln()).abs() < 0.02, "{acquits}");
    }
}
