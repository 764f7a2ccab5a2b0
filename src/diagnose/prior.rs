//! How common each cause is and how bad it usually is: one table, editable.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::{cause::Cause, entries};

use super::table_error::TableError;

/// Number of points of the severity grid (assumed).
const GRID: usize = 14;

/// The table of priors of all causes.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    rows: BTreeMap<Cause, Row>,
}

/// Prior of one cause.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    /// Prior weight relative to the other causes.
    weight: f64,
    /// Usual size, in the unit of the cause's severity quantity.
    #[serde(default)]
    usual: Option<f64>,
    /// Factor within which two thirds of the sizes lie around the usual one.
    #[serde(default)]
    factor: Option<f64>,
    /// Smallest size that counts as a fault.
    #[serde(default)]
    least: Option<f64>,
    /// Largest size considered.
    #[serde(default)]
    most: Option<f64>,
    /// Standard deviation of the logarithm of the sizes that have the same effect on different cars.
    #[serde(default)]
    spread: f64,
    /// Probability, relative to the stated side, that the size lies on the other side (below 0).
    #[serde(default)]
    other_side: f64,
    /// A second way in which the cause arises, with its own sizes.
    #[serde(default)]
    second: Option<Second>,
}

/// Sizes of a second way in which a cause arises.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Second {
    /// Share of the cause's weight that this way has, 0 to 1.
    share: f64,
    /// Usual size of the fault when it arises this way.
    usual: f64,
    /// Factor within which two thirds of the sizes lie around the usual one.
    factor: f64,
}

impl Priors {
    /// Reads a table.
    ///
    /// # Errors
    /// When it is no TOML, a cause is missing or unknown, or a number is out of its range.
    pub fn from_toml(text: &str) -> Result<Self, TableError> {
        let rows: BTreeMap<Cause, Row> = entries::read(text).map_err(TableError::Format)?;
        for cause in Cause::ALL {
            let row = rows.get(&cause).ok_or(TableError::Missing(cause))?;
            row.check(cause)?;
        }
        Ok(Self { rows })
    }

    /// Prior weight of a cause relative to the others.
    pub fn weight(&self, cause: Cause) -> f64 {
        self.rows.get(&cause).map_or(0.0, |row| row.weight)
    }

    /// Standard deviation of the logarithm of the sizes that have the same effect on different cars.
    pub fn spread(&self, cause: Cause) -> f64 {
        self.rows.get(&cause).map_or(0.0, |row| row.spread)
    }

    /// Largest size of a cause; infinite where the cause has no size.
    pub fn largest(&self, cause: Cause) -> f64 {
        let row = self.rows.get(&cause);
        row.and_then(|row| row.most).unwrap_or(f64::INFINITY)
    }

    /// Sizes of a cause with their probabilities, smallest first; a single `None` where the cause has no size.
    pub fn sizes(&self, cause: Cause) -> Vec<(Option<f64>, f64)> {
        self.few_sizes(cause, GRID)
    }

    /// Sizes of a cause with their probabilities in `count` steps (at least 2), smallest first; a single `None` where
    /// the cause has no size.
    pub fn few_sizes(&self, cause: Cause, count: usize) -> Vec<(Option<f64>, f64)> {
        let row = self.rows.get(&cause);
        let grid = row.and_then(|row| row.grid(count));
        grid.unwrap_or_else(|| vec![(None, 1.0)])
    }
}

impl Row {
    fn check(&self, cause: Cause) -> Result<(), TableError> {
        let wrong = |expected| Err(TableError::Range { cause, expected });
        if !(self.weight >= 0.0 && self.weight.is_finite()) {
            return wrong("a weight of 0 or more");
        }
        if !(0.0..=2.0).contains(&self.spread) {
            return wrong("a spread of 0 to 2");
        }
        if let Some(second) = &self.second
            && !((0.0..=1.0).contains(&second.share) && second.usual > 0.0 && second.factor > 1.0)
        {
            return wrong(
                "a second share of 0 to 1, its usual size above 0 and its factor above 1",
            );
        }
        match (cause.severity_quantity(), self.shape()) {
            (None, _) => Ok(()),
            (Some(_), Some((usual, factor, least, most)))
                if 0.0 < least && least <= usual && usual <= most && factor > 1.0 =>
            {
                Ok(())
            }
            _ => wrong("0 < least <= usual <= most, and a factor above 1"),
        }
    }

    fn shape(&self) -> Option<(f64, f64, f64, f64)> {
        Some((self.usual?, self.factor?, self.least?, self.most?))
    }

    /// The log-normal distribution of sizes (or a mixture of two) on a grid of equal ratios; `None` where the cause has
    /// no size. The other side has the sizes of the first way.
    fn grid(&self, count: usize) -> Option<Vec<(Option<f64>, f64)>> {
        let (usual, factor, least, most) = self.shape()?;
        let step = (most / least).ln() / (count as f64 - 1.0);
        let sizes = (0..count).map(|index| least * (step * index as f64).exp());
        let first_share = 1.0 - self.second.map_or(0.0, |second| second.share);
        let first = |size| first_share * log_normal(size, usual, factor);
        let second = |size| {
            self.second.map_or(0.0, |second| {
                second.share * log_normal(size, second.usual, second.factor)
            })
        };
        let mut grid: Vec<(f64, f64)> = Vec::new();
        if self.other_side > 0.0 {
            let mirrored = |size: f64| (-size, self.other_side * first(size));
            grid.extend(sizes.clone().rev().map(mirrored));
        }
        grid.extend(sizes.map(|size| (size, first(size) + second(size))));
        let sum: f64 = grid.iter().map(|(_, weight)| weight).sum();
        Some(
            grid.into_iter()
                .map(|(size, weight)| (Some(size), weight / sum))
                .collect(),
        )
    }
}

/// Density of a log-normal over the logarithm of the size, up to a constant; two thirds of sizes lie within `factor` of
/// `usual`.
fn log_normal(size: f64, usual: f64, factor: f64) -> f64 {
    let distance = (size / usual).ln() / factor.ln();
    (-0.5 * distance * distance).exp() / factor.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two ways with sizes far apart: between them there is hardly anything, and each has its share.
    #[test]
    fn a_second_way_has_sizes_of_its_own() {
        let row = Row {
            weight: 1.0,
            usual: Some(2.0),
            factor: Some(1.2),
            least: Some(1.0),
            most: Some(100.0),
            spread: 0.0,
            other_side: 0.0,
            second: Some(Second {
                share: 0.25,
                usual: 50.0,
                factor: 1.2,
            }),
        };
        let grid = row.grid(200).unwrap();
        let between = |low: f64, high: f64| -> f64 {
            let inside = grid
                .iter()
                .filter(|(size, _)| (low..high).contains(&size.unwrap()));
            inside.map(|(_, weight)| weight).sum()
        };
        assert!((between(0.0, 10.0) - 0.75).abs() < 0.01);
        assert!((between(10.0, 101.0) - 0.25).abs() < 0.01);
        assert!(between(6.0, 20.0) < 1e-6);
    }
}
