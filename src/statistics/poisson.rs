//! Rare events: exact intervals of a rate, and whether one of several counters stands out.
//!
//! Events that come in bursts vary more than a Poisson count. Their *dispersion* φ is the variance over the mean;
//! a count n with dispersion φ carries the information of n/φ independent events, so all calculations here are made
//! with n/φ and scaled back (quasi-Poisson: McCullagh and Nelder, *Generalized Linear Models*, 2nd ed., section 6.2).

use statrs::function::beta::beta_reg;

use super::quantile;

/// The exact central interval of the mean of a Poisson count at `level` (0.95 for 95 %): Garwood, *Biometrika* 28
/// (1936) 437–442, by quantiles of the gamma distribution. `dispersion` (at least 1) widens it for bursts.
///
/// Divide both ends by the exposure for a rate. `None` for a negative count or a level outside 0 to 1.
pub fn mean_interval(count: f64, dispersion: f64, level: f64) -> Option<(f64, f64)> {
    if !(count >= 0.0 && level > 0.0 && level < 1.0) {
        return None;
    }
    let dispersion = dispersion.max(1.0);
    let events = count / dispersion;
    let tail = (1.0 - level) / 2.0;
    let low = match events {
        0.0 => 0.0,
        _ => quantile::gamma(events, tail)?,
    };
    let high = quantile::gamma(events + 1.0, 1.0 - tail)?;
    Some((low * dispersion, high * dispersion))
}

/// Events counted over an exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Events, at least 0.
    pub count: f64,
    /// Exposure, above 0.
    pub exposure: f64,
}

/// The ratio of two rates, second over first, with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateRatio {
    /// The ratio; `None` when there were no first events.
    pub ratio: Option<f64>,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval; `None` where it is unbounded.
    pub high: Option<f64>,
    /// The ratio with half an event added to both counts, which is always above 0.
    centre: f64,
}

/// The exact interval of the ratio of two Poisson rates at `level`: given the total, the second count is binomial, and
/// the central interval of its share (Clopper and Pearson, *Biometrika* 26 (1934) 404–413) carries over to the ratio
/// (Przyborowski and Wilenski, *Biometrika* 31 (1940) 313–323).
///
/// First and second are counted in several strata with rates of their own and one ratio. Given each stratum's total,
/// the second counts' sum has the mean Σ n·share at a ratio, and no larger spread than a binomial of that mean, so that
/// the interval of the share is on the safe side; the ratio is the one that makes this mean fit (the conditional
/// maximum of likelihood: Breslow and Day, *Statistical Methods in Cancer Research* II (1987), section 3.5).
/// `dispersions` (at least 1, of first and second) widen it for bursts.
///
/// `None` for negative counts, a stratum without exposure or a level outside 0 to 1. Without any event the interval is
/// 0 to infinity.
pub fn rate_ratio(strata: &[[Counted; 2]], dispersions: [f64; 2], level: f64) -> Option<RateRatio> {
    let counted = |one: &Counted| one.count >= 0.0 && one.exposure > 0.0;
    let fits = !strata.is_empty() && strata.iter().flatten().all(counted);
    if !(fits && level > 0.0 && level < 1.0) {
        return None;
    }
    let [one_each, two_each] = dispersions.map(|dispersion| dispersion.max(1.0));
    let events = |[first, second]: &[Counted; 2]| Stratum {
        events: first.count / one_each + second.count / two_each,
        per_exposure: second.exposure * one_each / (first.exposure * two_each),
    };
    let all: Vec<Stratum> = strata.iter().map(events).collect();
    let total: f64 = all.iter().map(|stratum| stratum.events).sum();
    let two = strata.iter().map(|[_, second]| second.count).sum::<f64>() / two_each;
    if total <= 0.0 {
        return Some(RateRatio {
            ratio: None,
            low: 0.0,
            high: None,
            centre: 1.0,
        });
    }
    let one = total - two;
    let first_events = strata.iter().any(|[first, _]| first.count > 0.0);
    let quantile = |above: f64, below: f64, chance: f64| {
        let share = quantile::beta(above, below, chance)?;
        Some(ratio_at(&all, share))
    };
    let tail = (1.0 - level) / 2.0;
    let low = match two {
        0.0 => 0.0,
        _ => quantile(two, one + 1.0, tail)?,
    };
    let high = if !first_events {
        None
    } else {
        Some(quantile(two + 1.0, one, 1.0 - tail)?)
    };
    let ratio = match two {
        0.0 => 0.0,
        _ => ratio_at(&all, two / total),
    };
    Some(RateRatio {
        ratio: first_events.then_some(ratio),
        low,
        high,
        centre: ratio_at(&all, (two + 0.5) / (total + 1.0)),
    })
}

/// One stratum of a rate ratio.
struct Stratum {
    /// Events of both sides.
    events: f64,
    /// Exposure of the second side per unit of the first side's.
    per_exposure: f64,
}

/// The ratio at which the second side has this share (between 0 and 1) of all events.
fn ratio_at(strata: &[Stratum], share: f64) -> f64 {
    let total: f64 = strata.iter().map(|stratum| stratum.events).sum();
    let share_at = |ratio: f64| {
        let second = strata.iter().map(|stratum| {
            let odds = ratio * stratum.per_exposure;
            stratum.events * odds / (1.0 + odds)
        });
        second.sum::<f64>() / total
    };
    let (mut low, mut high) = (-50.0_f64, 50.0_f64);
    for _ in 0..100 {
        let middle = (low + high) / 2.0;
        if share_at(middle.exp()) < share {
            low = middle
        } else {
            high = middle
        }
    }
    low.exp()
}

impl RateRatio {
    /// The ratio with an additional error: half the width of that error's interval, in natural logarithm, is added in
    /// quadrature to each half of this one's.
    pub fn widened(self, half_log: f64) -> Self {
        let away = |end: f64| {
            let own = (end / self.centre).ln();
            self.centre * (own.signum() * own.hypot(half_log)).exp()
        };
        Self {
            low: if self.low > 0.0 { away(self.low) } else { 0.0 },
            high: self.high.map(away),
            ..self
        }
    }
}

/// One of several counters with more than its share of events.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandsOut {
    /// Index among the counts given.
    pub index: usize,
    /// Share of all events, 0 to 1.
    pub share: f64,
    /// Probability of such a surplus on any of the counters if all had the same rate, 0 to 1.
    pub p_value: f64,
}

/// Tests the counter with the least probable surplus against all others together.
///
/// Given the total, a counter's count is binomial with its share of the exposure; the probability of as many or more is
/// exact (Przyborowski and Wilenski, *Biometrika* 31 (1940) 313–323). The allowance for looking at all k counters is a
/// factor of k (Bonferroni). `None` when there are fewer than two counters, no events, or unequal lengths.
pub fn stands_out(counts: &[f64], exposures: &[f64], dispersion: f64) -> Option<StandsOut> {
    let total: f64 = counts.iter().sum();
    let exposure: f64 = exposures.iter().sum();
    let fits = counts.len() == exposures.len() && counts.len() >= 2;
    if !(fits && total > 0.0 && exposure > 0.0) {
        return None;
    }
    let candidates = counts.iter().zip(exposures).enumerate();
    let tested = candidates.map(|(index, (count, exposed))| {
        let events = (count / dispersion.max(1.0), total / dispersion.max(1.0));
        StandsOut {
            index,
            share: count / total,
            p_value: surplus_chance(events.0, events.1, exposed / exposure),
        }
    });
    let strongest = tested.min_by(|a, b| a.p_value.total_cmp(&b.p_value))?;
    Some(StandsOut {
        p_value: (strongest.p_value * counts.len() as f64).min(1.0),
        ..strongest
    })
}

/// Probability of `events` or more out of `total` with probability `share` each, by the incomplete beta function, which
/// extends the binomial to non-integer numbers.
fn surplus_chance(events: f64, total: f64, share: f64) -> f64 {
    if events <= 0.0 || share >= 1.0 {
        1.0
    } else if share <= 0.0 {
        0.0
    } else {
        beta_reg(events, total - events + 1.0, share)
    }
}

/// The regulation's classes of the distribution of misfires over the cylinders (13 CCR 1968.2 (e)(3)).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MisfirePattern {
    /// More than 90 % in this one cylinder, by its index among the counts given.
    Single(usize),
    /// Two or more cylinders with more than 10 % each.
    Multiple,
}

/// The regulation's class of these counts by cylinder; `None` without misfires.
pub fn misfire_pattern(counts: &[f64]) -> Option<MisfirePattern> {
    let total: f64 = counts.iter().sum();
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let single = counts.iter().position(|count| *count > 0.9 * total);
    let above_tenth = counts.iter().filter(|count| **count > 0.1 * total).count();
    let multiple = (above_tenth >= 2).then_some(MisfirePattern::Multiple);
    single.map(MisfirePattern::Single).or(multiple)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::reference;

    fn close(found: f64, expected: f64, relative: f64) -> bool {
        (found - expected).abs() <= relative * expected.abs().max(1e-12)
    }

    /// Pearson and Hartley, *Biometrika Tables for Statisticians* I, table 40 (95 %), from memory.
    #[test]
    fn intervals_agree_with_the_published_table() {
        for (count, low, high) in [
            (0.0, 0.0, 3.69),
            (1.0, 0.0253, 5.57),
            (2.0, 0.242, 7.22),
            (3.0, 0.619, 8.77),
            (5.0, 1.62, 11.67),
            (10.0, 4.80, 18.39),
            (20.0, 12.22, 30.89),
            (50.0, 37.11, 65.92),
        ] {
            let found = mean_interval(count, 1.0, 0.95).unwrap();
            assert!((found.0 - low).abs() <= 0.006, "{count}: {found:?}");
            assert!((found.1 - high).abs() <= 0.006, "{count}: {found:?}");
        }
    }

    #[test]
    fn intervals_agree_with_computed_values() {
        for row in reference::rows("poisson_mean") {
            let [count, level, _, low, high] = row;
            let found = mean_interval(count, 1.0, level).unwrap();
            assert!(close(found.0, low, 1e-6), "{row:?}: {found:?}");
            assert!(close(found.1, high, 1e-6), "{row:?}: {found:?}");
        }
    }

    #[test]
    fn surplus_chances_agree_with_computed_values() {
        for row in reference::rows("binomial_surplus") {
            let [events, total, share, expected, _] = row;
            let found = surplus_chance(events, total, share);
            assert!(close(found, expected, 1e-9), "{row:?}: {found}");
        }
    }

    #[test]
    fn bursts_widen_the_interval_and_leave_the_count_inside() {
        let narrow = mean_interval(40.0, 1.0, 0.95).unwrap();
        let wide = mean_interval(40.0, 4.0, 0.95).unwrap();
        assert!(wide.0 < narrow.0 && narrow.1 < wide.1);
        // 40 counts that come in fours are 10 events: four times the table's 4.80 to 18.39
        assert!(
            close(wide.0, 19.18, 1e-3) && close(wide.1, 73.56, 1e-3),
            "{wide:?}"
        );
        assert_eq!(mean_interval(-1.0, 1.0, 0.95), None);
        assert_eq!(mean_interval(1.0, 1.0, 1.0), None);
    }

    /// Clopper and Pearson's 95 % limits of 3 in 10 are 0.0667 and 0.6525, of 0 in 10 0 and 0.3085 (any published
    /// table); a share p of the second side means a ratio of p / (1 − p).
    #[test]
    fn rate_ratios_agree_with_published_binomial_limits() {
        let of = |first: f64, second: f64, exposure: f64| {
            let counted = |count, exposure| Counted { count, exposure };
            rate_ratio(
                &[[counted(first, exposure), counted(second, 1.0)]],
                [1.0; 2],
                0.95,
            )
            .unwrap()
        };
        let found = of(7.0, 3.0, 1.0);
        assert!(close(found.ratio.unwrap(), 3.0 / 7.0, 1e-9));
        assert!(close(found.low, 0.0667 / 0.9333, 2e-3), "{found:?}");
        assert!(
            close(found.high.unwrap(), 0.6525 / 0.3475, 2e-3),
            "{found:?}"
        );
        let none_left = of(10.0, 0.0, 1.0);
        assert_eq!((none_left.ratio, none_left.low), (Some(0.0), 0.0));
        assert!(
            close(none_left.high.unwrap(), 0.3085 / 0.6915, 2e-3),
            "{none_left:?}"
        );
        // twice the exposure on the first side: the same counts are a rate twice as high after
        assert!(close(of(7.0, 3.0, 2.0).low, 2.0 * found.low, 1e-9));
        let new = of(0.0, 10.0, 1.0);
        assert_eq!((new.ratio, new.high), (None, None));
        assert!(close(new.low, 0.6915 / 0.3085, 2e-3), "{new:?}");
        let neither = of(0.0, 0.0, 1.0);
        assert_eq!((neither.low, neither.high), (0.0, None));
        let negative = Counted {
            count: -1.0,
            exposure: 1.0,
        };
        assert_eq!(rate_ratio(&[[negative; 2]], [1.0; 2], 0.95), None);
        assert_eq!(rate_ratio(&[], [1.0; 2], 0.95), None);
    }

    #[test]
    fn bursts_and_other_doubt_widen_a_rate_ratio() {
        let counted = |count| Counted {
            count,
            exposure: 1.0,
        };
        let of = |dispersion| {
            rate_ratio(&[[counted(40.0), counted(20.0)]], [dispersion; 2], 0.95).unwrap()
        };
        // counts in fours are ten and five events
        let bursts = of(4.0);
        let single = rate_ratio(&[[counted(10.0), counted(5.0)]], [1.0; 2], 0.95).unwrap();
        assert!(close(bursts.low, single.low, 1e-9));
        let plain = of(1.0);
        let wide = plain.widened(0.5);
        assert!(wide.low < plain.low && plain.high < wide.high);
        assert!(wide.low > plain.low * (-0.5_f64).exp());
    }

    /// Rates of 1 and 20 in each of exposure, halved on the second side, which saw much of the first stratum and little of
    /// the second: 100 and 200 before, 100 and 10 after. Sums would give 110 / 300 over equal exposures of 110.
    #[test]
    fn a_ratio_over_strata_is_that_of_each_stratum() {
        let counted = |count, exposure| Counted { count, exposure };
        let strata = [
            [counted(100.0, 100.0), counted(100.0, 200.0)],
            [counted(200.0, 10.0), counted(10.0, 1.0)],
        ];
        let found = rate_ratio(&strata, [1.0; 2], 0.95).unwrap();
        assert!(close(found.ratio.unwrap(), 0.5, 1e-9), "{found:?}");
        assert!(found.low < 0.5 && found.high.unwrap() < 1.0, "{found:?}");
        // the same stratum cut in two says the same
        let whole = rate_ratio(&strata[..1], [1.0; 2], 0.95).unwrap();
        let half = [counted(50.0, 50.0), counted(50.0, 100.0)];
        let halves = rate_ratio(&[half, half], [1.0; 2], 0.95).unwrap();
        assert!(close(whole.low, halves.low, 1e-9) && whole.ratio.is_some());
    }

    /// 40 events in fours before are ten, 20 single ones after are 20: of all 30 the second has as many as one of the same
    /// counts with four times the exposure.
    #[test]
    fn each_side_may_have_bursts_of_its_own() {
        let counted = |count, exposure| Counted { count, exposure };
        let found = rate_ratio(
            &[[counted(40.0, 1.0), counted(20.0, 1.0)]],
            [4.0, 1.0],
            0.95,
        );
        let same = rate_ratio(&[[counted(10.0, 0.25), counted(20.0, 1.0)]], [1.0; 2], 0.95);
        let (found, same) = (found.unwrap(), same.unwrap());
        assert!(close(found.ratio.unwrap(), 0.5, 1e-9), "{found:?}");
        assert!(close(found.low, same.low, 1e-9), "{found:?} {same:?}");
    }

    #[test]
    fn one_cylinder_stands_out_and_pays_for_the_looking() {
        let found = stands_out(&[3.0, 57.0, 2.0, 4.0], &[1.0; 4], 1.0).unwrap();
        assert_eq!(found.index, 1);
        assert!(close(found.share, 57.0 / 66.0, 1e-12));
        assert!(found.p_value < 1e-12);
        // 9 of 12 with a quarter each: 4 × P(X ≥ 9) = 4 × 0.000392 (binomial by hand)
        let found = stands_out(&[9.0, 1.0, 1.0, 1.0], &[1.0; 4], 1.0).unwrap();
        assert!(close(found.p_value, 4.0 * 0.000_391_7, 1e-2), "{found:?}");
        // the same surplus in bursts of three is three events of four
        let bursts = stands_out(&[9.0, 1.0, 1.0, 1.0], &[1.0; 4], 3.0).unwrap();
        assert!(bursts.p_value > 0.1, "{bursts:?}");
        assert_eq!(stands_out(&[0.0, 0.0], &[1.0, 1.0], 1.0), None);
        assert_eq!(stands_out(&[4.0], &[1.0], 1.0), None);
    }

    #[test]
    fn the_regulations_split() {
        assert_eq!(
            misfire_pattern(&[1.0, 99.0, 0.0]),
            Some(MisfirePattern::Single(1))
        );
        assert_eq!(
            misfire_pattern(&[50.0, 50.0, 0.0]),
            Some(MisfirePattern::Multiple)
        );
        // exactly 90 % is not more than 90 %, and 10 % is not more than 10 %
        assert_eq!(misfire_pattern(&[90.0, 10.0]), None);
        assert_eq!(misfire_pattern(&[0.0, 0.0]), None);
    }
}
