//! Readings of a set that are known only relative to each other: flows, and work at idle.
//!
//! The common factor is fitted anew for every prediction. The tails are heavy, because hands, gauges and pumps do more
//! than any table knows.

use super::{square, t, t_weight};

/// Iterations of fitting the common factor (assumed; the weights settle within a few).
const TURNS: usize = 6;
/// Smallest common factor, in the unit of the readings (assumed; it keeps the logarithm finite).
const LEAST: f64 = 1e-6;

/// One reading of a set with the standard error of its instrument.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Reading, in the unit of its instrument.
    pub value: f64,
    /// Standard error, in the unit of the reading.
    pub error: f64,
}

/// Predicted reading of a cylinder, relative to a sound one.
#[derive(Debug, Clone, Copy)]
pub struct Share {
    /// Share of a sound cylinder's reading.
    pub of_sound: f64,
    /// Standard deviation of that share.
    pub spread: f64,
}

/// Log-likelihood of a set of readings with the common factor (the reading of a sound cylinder) that fits best. `known`
/// is that reading with its relative error, where a data sheet states it.
pub fn fit(set: &[Measured], share: impl Fn(u8) -> Share, known: Option<(f64, f64)>) -> f64 {
    if set.len() < 2 && known.is_none() || set.is_empty() {
        return 0.0;
    }
    let rows: Vec<(Measured, Share)> = set.iter().map(|one| (*one, share(one.cylinder))).collect();
    // a share close to zero says nothing about the factor
    let telling = rows.iter().filter(|(_, share)| share.of_sound > 0.1);
    let mut ratios: Vec<f64> = telling
        .map(|(one, share)| one.value / share.of_sound)
        .collect();
    ratios.sort_by(f64::total_cmp);
    let middle = ratios.get(ratios.len() / 2).copied().unwrap_or(0.0);
    let mut factor = known.map_or(middle, |(factor, _)| factor).max(LEAST);
    // weighted least squares with the weights of the t, again and again
    for _ in 0..TURNS {
        let (mut sum, mut weights) = known.map_or((0.0, 0.0), |(known, error)| {
            let weight = square(known * error).recip();
            (weight * known, weight)
        });
        for (one, share) in &rows {
            let variance = square(share.spread * factor) + square(one.error);
            let distance = square(one.value - factor * share.of_sound) / variance;
            let weight = t_weight(distance) / variance;
            sum += weight * share.of_sound * one.value;
            weights += weight * square(share.of_sound);
        }
        factor = (sum / weights.max(1e-12)).max(LEAST);
    }
    // densities of what was read, in its own unit: a factor of another size must not count as a better fit
    let readings = rows.iter().map(|(one, share)| {
        let deviation = (share.spread * factor).hypot(one.error);
        t((one.value - factor * share.of_sound) / deviation) - deviation.ln()
    });
    let off = known.map_or(0.0, |(known, error)| (factor / known - 1.0) / error);
    readings.sum::<f64>() - 0.5 * square(off)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(values: &[f64], error: f64) -> Vec<Measured> {
        let one = |(cylinder, value): (u8, &f64)| Measured {
            cylinder,
            value: *value,
            error,
        };
        (1..).zip(values).map(one).collect()
    }

    fn weak(cylinder: u8, of_sound: f64) -> impl Fn(u8) -> Share {
        move |number| Share {
            of_sound: if number == cylinder { of_sound } else { 1.0 },
            spread: 0.15,
        }
    }

    /// An idle that is held up falls by a few turns whichever cylinder is cut out, and wanders by as much. By hand: against
    /// 15 rpm each the squares add up to 50 / 144 = 0.35. One that works beside three that do 0.3 of it is fitted by
    /// (20 + 0.3 × 40) / 1.27 = 25 rpm, and against 25 and 7.6 they add up to 1.0: a worse fit, whatever the factor.
    #[test]
    fn a_larger_common_factor_is_no_better_fit() {
        let falls = set(&[20.0, 10.0, 15.0, 15.0], 12.0);
        let alike = fit(&falls, weak(0, 1.0), None);
        let one_works = |number: u8| Share {
            of_sound: if number == 1 { 1.0 } else { 0.3 },
            spread: 0.15,
        };
        assert!(fit(&falls, one_works, None) < alike);
    }

    /// By hand: 60 60 60 42 are 1, 1, 1 and 0.70 of 60. Without the deficit the last lies (60 − 42) / (60 × 0.15) = 2
    /// spreads or a little less away.
    #[test]
    fn the_weak_one_is_found_by_its_share() {
        let drops = set(&[60.0, 60.0, 60.0, 42.0], 1.0);
        let best = fit(&drops, weak(4, 0.7), None);
        assert!(best > fit(&drops, weak(0, 1.0), None) + 1.0);
        assert!(best > fit(&drops, weak(3, 0.7), None) + 2.0);
        assert_eq!(fit(&set(&[60.0], 1.0), weak(1, 0.7), None), 0.0);
    }

    /// Alike readings say how much only beside a data sheet: 45 of 50 mL ± 4 % lie 2.5 errors below.
    #[test]
    fn a_known_reading_holds_the_factor() {
        let volumes = set(&[45.0; 4], 0.3);
        let all = |of_sound: f64| {
            move |_| Share {
                of_sound,
                spread: 0.03,
            }
        };
        let sheet = Some((50.0, 0.04));
        assert!(fit(&volumes, all(0.9), sheet) > fit(&volumes, all(1.0), sheet) + 2.0);
    }
}
