//! The doubt of a mean when neighbouring readings are not independent: batch means in bounded memory.
//!
//! Readings are cut into stretches (batches) longer than the time over which they remember each other; the means of
//! the batches are then nearly independent and their spread gives the standard error of the whole mean (method of
//! batch means: Conway 1963; Law and Kelton, *Simulation Modeling and Analysis*, chapter on output analysis). When
//! there are too many batches, neighbours are merged in pairs and batches become twice as long, so that memory stays
//! the same for any length and the batches grow with the data.

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
    /// Batches of `length` readings (at least 1) to begin with, at most `most` of them (an even number, at least 4).
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

    /// How many readings.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean of all readings.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Sample variance of single readings; needs two.
    pub fn variance(&self) -> Option<f64> {
        (self.count > 1).then(|| self.squares / (self.count - 1) as f64)
    }

    /// Readings in a batch now.
    pub fn batch_length(&self) -> u32 {
        self.length
    }

    /// Complete batches.
    pub fn batches(&self) -> usize {
        self.means.len()
    }

    /// Sample variance of the means of complete batches; needs two of them.
    pub fn batch_variance(&self) -> Option<f64> {
        let n = self.means.len();
        if n < 2 {
            return None;
        }
        let mean = self.means.iter().sum::<f64>() / n as f64;
        let squares: f64 = self.means.iter().map(|m| (m - mean).powi(2)).sum();
        Some(squares / (n - 1) as f64)
    }

    /// Standard error of the mean from the batches; needs two complete ones.
    pub fn standard_error(&self) -> Option<f64> {
        let variance = self.batch_variance()?;
        Some((variance * f64::from(self.length) / self.count as f64).sqrt())
    }

    /// Interval of the mean at `level` (0.95 for 95 %), by Student's t with one degree of freedom fewer than batches.
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        let freedom = self.means.len().checked_sub(1)?;
        let half = t_quantile(freedom as f64, level)? * self.standard_error()?;
        Some((self.mean - half, self.mean + half))
    }
}

/// Half-width of a two-sided interval at `level` in standard errors, with `freedom` degrees of freedom (above 0).
pub fn t_quantile(freedom: f64, level: f64) -> Option<f64> {
    let distribution = StudentsT::new(0.0, 1.0, freedom).ok()?;
    (level > 0.0 && level < 1.0).then(|| distribution.inverse_cdf(0.5 + level / 2.0))
}
