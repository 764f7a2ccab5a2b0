//! Chance, from a seed.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

/// A stream of draws; the same seed gives the same stream.
pub struct Dice(Pcg64Mcg);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    pub fn seed(&mut self) -> u64 {
        self.0.random()
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Every ratio alike probable.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    pub fn normal(&mut self, spread: f64) -> f64 {
        spread * self.0.sample::<f64, _>(StandardNormal)
    }

    pub fn chance(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    pub fn index(&mut self, below: usize) -> usize {
        self.0.random_range(0..below)
    }

    /// One of several, by weight.
    pub fn weighed<T: Copy>(&mut self, choices: &[(f64, T)]) -> T {
        let all: f64 = choices.iter().map(|(weight, _)| weight).sum();
        let mut left = self.between(0.0, all);
        for (weight, choice) in choices {
            left -= weight;
            if left < 0.0 {
                return *choice;
            }
        }
        choices[choices.len() - 1].1
    }
}
