//! Corrections over the RPM × load grid, bank by bank and region by region: standing and driving at the same speed and
//! load are not alike.

use crate::series::{
    gather::cell::{CELLS, Cell},
    gather::estimate::RunningMean,
    gather::fuel_trim::BANKS,
    label::region::Region,
    summary::CellSummary,
};

/// The regions, and last what lies outside every region.
const PLACES: usize = Region::ALL.len() + 1;

/// Running means of y = ln C by bank, region and cell.
#[derive(Debug, Clone, Default)]
pub struct Cells {
    banks: [[Vec<Option<RunningMean>>; PLACES]; BANKS],
}

impl Cells {
    /// Takes a bank's y (banks counted from 0) in a moment that counts.
    pub fn push(&mut self, bank: usize, cell: Cell, region: Option<Region>, y: f64) {
        let place = region.map_or(Region::ALL.len(), Region::index);
        let cells = self.banks.get_mut(bank).and_then(|b| b.get_mut(place));
        let Some(cells) = cells else {
            return;
        };
        if cells.is_empty() {
            cells.resize(CELLS, None);
        }
        if let Some(slot) = cells.get_mut(cell.index()) {
            let mean = slot.get_or_insert_with(|| RunningMean::of_region(region));
            mean.push(y);
        }
    }

    /// The cells visited.
    pub fn summary(&self) -> Vec<CellSummary> {
        let mut all = Vec::new();
        for (bank, places) in (1..).zip(&self.banks) {
            for (place, cells) in places.iter().enumerate() {
                for (index, mean) in cells.iter().enumerate() {
                    let estimate = mean.as_ref().and_then(RunningMean::estimate);
                    all.extend(estimate.map(|estimate| CellSummary {
                        bank,
                        region: Region::ALL.get(place).copied(),
                        cell: Cell::from_index(index),
                        mean_log: estimate.mean_log,
                        std_error_log: estimate.std_error_log,
                        seconds: estimate.seconds,
                    }));
                }
            }
        }
        all
    }
}
