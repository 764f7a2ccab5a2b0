//! The RPM × load grid, finer than the regions, for comparing like with like.

use serde::{Deserialize, Serialize};

use crate::series::timeline::{moment::Moment, quantity::Quantity};

/// Width of a column, rpm (assumed); the last column holds everything above.
const COLUMN_RPM: f64 = 500.0;
/// Height of a row, percent of calculated load (assumed).
const ROW_PCT: f64 = 10.0;
/// Number of columns.
const COLUMNS: u8 = 14;
/// Number of rows.
const ROWS: u8 = 10;
/// Number of cells.
pub const CELLS: usize = COLUMNS as usize * ROWS as usize;

/// One box of the RPM × load grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Cell {
    /// Column: engine speed class, from 0, of 500 rpm each.
    pub speed: u8,
    /// Row: load class, from 0, of 10 points each.
    pub load: u8,
}

impl Cell {
    /// The cell of a moment whose engine speed and load are known.
    pub fn of(moment: &Moment) -> Option<Self> {
        let engine_rpm = moment.get(Quantity::EngineSpeed)?;
        let load_pct = moment.get(Quantity::Load)?;
        Some(Self::at(engine_rpm, load_pct))
    }

    /// The cell of an engine speed, rpm, and a load, percent.
    pub fn at(engine_rpm: f64, load_pct: f64) -> Self {
        let (speed, load) = (engine_rpm / COLUMN_RPM, load_pct / ROW_PCT);
        Self {
            speed: (speed.max(0.0) as u8).min(COLUMNS - 1),
            load: (load.max(0.0) as u8).min(ROWS - 1),
        }
    }

    /// Engine speeds, rpm: from the lowest up to the highest; the last column has no highest.
    pub fn engine_rpm(self) -> (f64, Option<f64>) {
        edges(self.speed, COLUMNS, COLUMN_RPM)
    }

    /// Loads, percent: from the lowest up to the highest; the last row has no highest.
    pub fn load_pct(self) -> (f64, Option<f64>) {
        edges(self.load, ROWS, ROW_PCT)
    }

    /// Dense number of the cell, below [`CELLS`].
    pub fn index(self) -> usize {
        usize::from(self.load) * usize::from(COLUMNS) + usize::from(self.speed)
    }

    /// The cell with this dense number.
    pub fn from_index(index: usize) -> Self {
        let columns = usize::from(COLUMNS);
        Self {
            speed: (index % columns) as u8,
            load: (index / columns) as u8,
        }
    }
}

fn edges(number: u8, count: u8, width: f64) -> (f64, Option<f64>) {
    let low = f64::from(number) * width;
    (low, (number + 1 < count).then_some(low + width))
}
