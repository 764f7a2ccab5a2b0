//! Standard error of a mean when neighbouring readings are not independent: batch means in bounded memory.
//!
//! Readings are cut into stretches (batches) longer than the time over which they are correlated; the means of the
//! batches are then nearly independent and their spread gives the standard error of the whole mean (method of batch
//! means: Conway 1963; Law and Kelton, *Simulation Modeling and Analysis*, chapter on output analysis). When there are
//! too many batches, neighbours are merged in pairs and batches become twice as long, so that memory stays constant and
//! the batches grow with the data.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A running mean with batch means for its standard error.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchMeans {
    length: u32,
    most: usize,
    means: Vec<f64>,
    open_sum: f64,
    open_count: u32,
    count: u64,
    mean: f64,
    squares: f64,
}

impl BatchMeans {
    /// An empty mean. Batches have `length` readings (at least 1) to begin with; at most `most` of them (an even
    /// number, at least 4) are kept.
    pub fn new(length: u32, most: usize) -> Self {
        Self {
            length: length.max(1),
            most: most.max(4).next_multiple_of(2),
            means: Vec::new(),
            open_sum: 0.0,
            open_count: 0,
            count: 0,
            mean: 0.0,
            squares: 0.0,
        }
    }

    /// Adds one reading.
    pub fn push(&mut self, reading: f64) {
        self.count += 1;
        let step = reading - self.mean;
        self.mean += step / self.count as f64;
        self.squares += step * (reading - self.mean);
        self.open_sum += reading;
        self.open_count += 1;
        if self.open_count == self.length {
            self.close_batch();
        }
    }

    fn close_batch(&mut self) {
        self.means.push(self.open_sum / f64::from(self.length));
        self.open_sum = 0.0;
        self.open_count = 0;
        if self.means.len() == self.most {
            let (pairs, _) = self.means.as_chunks::<2>();
            self.means = pairs.iter().map(|[a, b]| (a + b) / 2.0).collect();
            self.length *= 2;
        }
    }

    /// Number of readings.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean of all readings; `None` without any.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Sample variance of single readings; `None` for fewer than two.
    pub fn variance(&self) -> Option<f64> {
        (self.count > 1).then(|| self.squares / (self.count - 1) as f64)
    }

    /// Number of readings in a batch at present.
    pub fn batch_length(&self) -> u32 {
        self.length
    }

    /// Number of complete batches.
    pub fn batches(&self) -> usize {
        self.means.len()
    }

    /// Sample variance of the means of complete batches; `None` for fewer than two.
    pub fn batch_variance(&self) -> Option<f64> {
        let n = self.means.len();
        if n < 2 {
            return None;
        }
        let mean = self.means.iter().sum::<f64>() / n as f64;
        let squares: f64 = self.means.iter().map(|m| (m - mean).powi(2)).sum();
        Some(squares / (n - 1) as f64)
    }

    /// Standard error of the mean from the batches; `None` for fewer than two complete ones.
    pub fn standard_error(&self) -> Option<f64> {
        let variance = self.batch_variance()?;
        Some((variance * f64::from(self.length) / self.count as f64).sqrt())
    }

    /// Interval of the mean at `level` (0.95 for 95 %), by Student's t with one degree of freedom fewer than batches.
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        let degrees_of_freedom = self.means.len().checked_sub(1)?;
        let half = t_quantile(degrees_of_freedom as f64, level)? * self.standard_error()?;
        Some((self.mean - half, self.mean + half))
    }
}

/// Half-width of a two-sided interval at `level` in standard errors, by Student's t with `freedom` degrees of freedom
/// (above 0).
pub fn t_quantile(degrees_of_freedom: f64, level: f64) -> Option<f64> {
    let distribution = StudentsT::new(0.0, 1.0, degrees_of_freedom).ok()?;
    (level > 0.0 && level < 1.0).then(|| distribution.inverse_cdf(0.5 + level / 2.0))
}

#[cfg(test)]
mod tests {
    use rand_distr::{Distribution, StandardNormal};
    use rand_pcg::{Pcg64Mcg, rand_core::SeedableRng};

    use super::*;
    use crate::statistics::reference;

    fn of(length: u32, readings: impl IntoIterator<Item = f64>) -> BatchMeans {
        let mut batches = BatchMeans::new(length, 32);
        for reading in readings {
            batches.push(reading);
        }
        batches
    }

    /// A first-order autoregressive series with mean 0 and innovations of deviation 1.
    fn autoregressive(memory: f64, length: usize, seed: u64) -> Vec<f64> {
        let mut generator = Pcg64Mcg::seed_from_u64(seed);
        let mut value = 0.0;
        let mut next = || {
            let innovation: f64 = StandardNormal.sample(&mut generator);
            value = memory * value + innovation;
            value
        };
        for _ in 0..1000 {
            next();
        }
        (0..length).map(|_| next()).collect()
    }

    /// NIST StRD univariate, Michelso: mean and standard deviation certified to 15 digits.
    #[test]
    fn mean_and_deviation_of_michelsons_speed_of_light() {
        let text = include_str!("../../tests/data/nist_michelso.txt");
        let readings = text
            .lines()
            .filter(|line| !line.starts_with('#'))
            .flat_map(str::split_whitespace)
            .map(|field| field.parse().unwrap());
        let batches = of(10, readings);
        assert_eq!(batches.count(), 100);
        assert!((batches.mean().unwrap() - 299.852_4).abs() < 1e-11);
        let deviation = batches.variance().unwrap().sqrt();
        assert!((deviation / 0.079_010_547_819_051_8 - 1.0).abs() < 1e-11);
    }

    /// NIST StRD univariate, NumAcc3 and NumAcc4: 1001 readings, certified deviation 0.1 exactly.
    #[test]
    fn deviation_keeps_its_digits_on_large_means() {
        for (centre, accuracy) in [(1_000_000.2, 1e-8), (10_000_000.2, 1e-7)] {
            let swings = (0..1000).map(|i| {
                if i % 2 == 0 {
                    centre - 0.1
                } else {
                    centre + 0.1
                }
            });
            let batches = of(10, std::iter::once(centre).chain(swings));
            assert!((batches.mean().unwrap() / centre - 1.0).abs() < 1e-14);
            let deviation = batches.variance().unwrap().sqrt();
            assert!((deviation / 0.1 - 1.0).abs() < accuracy, "{deviation}");
        }
    }

    #[test]
    fn t_quantiles_agree_with_computed_values() {
        for row in reference::rows("t_quantile") {
            let [degrees_of_freedom, level, _, expected, _] = row;
            let found = t_quantile(degrees_of_freedom, level).unwrap();
            assert!((found / expected - 1.0).abs() < 1e-7, "{row:?}: {found}");
        }
        assert_eq!(t_quantile(0.0, 0.95), None);
        assert_eq!(t_quantile(3.0, 1.0), None);
    }

    /// Batches of two of 1, 3, 5, 7, 9: means 2 and 6, the 9 left over. Variance 8, error √(8 · 2 / 5).
    #[test]
    fn a_short_series_by_hand() {
        let batches = of(2, [1.0, 3.0, 5.0, 7.0, 9.0]);
        assert_eq!(batches.mean(), Some(5.0));
        assert_eq!(batches.batch_variance(), Some(8.0));
        assert!((batches.standard_error().unwrap() - 3.2_f64.sqrt()).abs() < 1e-12);
        let (low, high) = batches.interval(0.95).unwrap();
        // t with one degree of freedom: 12.7062
        assert!((high - low - 2.0 * 12.7062 * 3.2_f64.sqrt()).abs() < 1e-3);
        assert_eq!(of(2, [1.0]).interval(0.95), None);
    }

    #[test]
    fn memory_stays_the_same_for_any_length() {
        let batches = of(1, (0..1_000_000).map(f64::from));
        assert!(batches.batches() < 32, "{}", batches.batches());
        assert_eq!(batches.mean(), Some(499_999.5));
    }

    /// Variance of the mean of a long AR(1) series: σ² / (n (1 − ρ)²) (any textbook on time series).
    #[test]
    fn error_of_a_series_with_memory_is_the_theoretical_one() {
        let (memory, length) = (0.9, 100_000);
        let batches = of(30, autoregressive(memory, length, 1));
        let expected = 1.0 / ((1.0 - memory) * (length as f64).sqrt());
        let ratio = batches.standard_error().unwrap() / expected;
        // 24 or more batches: the error of the error is about 1 in 7
        assert!((0.6..1.4).contains(&ratio), "{ratio}");
        let independent = (batches.variance().unwrap() / length as f64).sqrt();
        assert!(
            independent < expected / 3.0,
            "neighbours were taken as independent"
        );
    }

    #[test]
    fn intervals_cover_the_truth_as_often_as_they_say() {
        let covered = (0..400)
            .filter(|seed| {
                let batches = of(30, autoregressive(0.8, 900, 1000 + seed));
                let (low, high) = batches.interval(0.95).unwrap();
                low <= 0.0 && 0.0 <= high
            })
            .count();
        // 95 % of 400 are 380; short batches lose a little, and chance is about 4.4
        assert!((360..=395).contains(&covered), "{covered} of 400");
    }
}
