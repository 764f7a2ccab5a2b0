//! How common each cause is and how bad it usually is: one table, editable.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::cause::Cause;

use super::table_error::TableError;

/// Points of the severity grid.
const GRID: usize = 14;

/// The table of all causes.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    rows: BTreeMap<Cause, Row>,
}

/// One cause.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    /// How common, against the others.
    weight: f64,
    /// Usual size, in the unit of the cause's severity quantity.
    #[serde(default)]
    usual: Option<f64>,
    /// Factor within which two thirds of the sizes lie around the usual one.
    #[serde(default)]
    factor: Option<f64>,
    /// Smallest size that is a fault.
    #[serde(default)]
    least: Option<f64>,
    /// Largest size.
    #[serde(default)]
    most: Option<f64>,
    /// Standard deviation of the logarithm of the sizes that have the same effect.
    #[serde(default)]
    spread: f64,
    /// How often, against the side told, the size lies on the other side (below 0).
    #[serde(default)]
    other_side: f64,
}

impl Priors {
    /// Reads a table.
    ///
    /// # Errors
    /// When it is no TOML, a cause is missing or unknown, or a number is out of its range.
    pub fn from_toml(text: &str) -> Result<Self, TableError> {
        let rows: BTreeMap<Cause, Row> = toml::from_str(text).map_err(TableError::format)?;
        for cause in Cause::ALL {
            let row = rows.get(&cause).ok_or(TableError::Missing(cause))?;
            row.check(cause)?;
        }
        Ok(Self { rows })
    }

    /// How common a cause is against the others.
    pub fn weight(&self, cause: Cause) -> f64 {
        self.rows.get(&cause).map_or(0.0, |row| row.weight)
    }

    /// How far the same effect comes of different sizes: standard deviation of the size's logarithm.
    pub fn spread(&self, cause: Cause) -> f64 {
        self.rows.get(&cause).map_or(0.0, |row| row.spread)
    }

    /// The largest size of a cause; no bound where there is no more or less.
    pub fn largest(&self, cause: Cause) -> f64 {
        let row = self.rows.get(&cause);
        row.and_then(|row| row.most).unwrap_or(f64::INFINITY)
    }

    /// Sizes of a cause with their probabilities, smallest first; a single `None` where there is no
    /// more or less.
    pub fn sizes(&self, cause: Cause) -> Vec<(Option<f64>, f64)> {
        self.few_sizes(cause, GRID)
    }

    /// The same in `count` steps (at least 2).
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

    /// A log-normal on a grid of equal ratios.
    fn grid(&self, count: usize) -> Option<Vec<(Option<f64>, f64)>> {
        let (usual, factor, least, most) = self.shape()?;
        let step = (most / least).ln() / (count as f64 - 1.0);
        let one_side = (0..count).map(|index| {
            let size = least * (step * index as f64).exp();
            let distance = (size / usual).ln() / factor.ln();
            (size, (-0.5 * distance * distance).exp())
        });
        let mut grid: Vec<(f64, f64)> = one_side.collect();
        if self.other_side > 0.0 {
            let mirrored = grid
                .iter()
                .map(|(size, weight)| (-size, self.other_side * weight));
            grid.extend(mirrored.collect::<Vec<_>>());
            grid.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        let sum: f64 = grid.iter().map(|(_, weight)| weight).sum();
        Some(
            grid.into_iter()
                .map(|(size, weight)| (Some(size), weight / sum))
                .collect(),
        )
    }
}
