//! Fuel trims over the RPM × load grid, bank by bank and region by region: standing and driving at the same speed and
//! load differ.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::{
            cell::{CELLS, Cell},
            estimate::RunningMean,
        },
        label::region::{ByPart, Region},
        summary::CellSummary,
    },
};

/// Running means of y = ln C by bank, region and cell.
#[derive(Debug, Clone, Default)]
pub struct Cells {
    banks: ByBank<ByPart<Vec<Option<RunningMean>>>>,
}

impl Cells {
    /// Takes a bank's y in a moment that counts.
    pub fn push(&mut self, bank: Bank, cell: Cell, region: Option<Region>, y: f64) {
        let cells = &mut self.banks[bank][region.into()];
        if cells.is_empty() {
            cells.resize(CELLS, None);
        }
        if let Some(slot) = cells.get_mut(cell.index()) {
            let mean = slot.get_or_insert_with(|| RunningMean::of_region(region));
            mean.push(y);
        }
    }

    /// Summaries of the cells that were recorded.
    pub fn summary(&self) -> Vec<CellSummary> {
        let mut all = Vec::new();
        for (bank, parts) in &self.banks {
            for (part, cells) in parts {
                for (index, mean) in cells.iter().enumerate() {
                    let estimate = mean.as_ref().and_then(RunningMean::estimate);
                    all.extend(estimate.map(|estimate| CellSummary {
                        bank: bank.number(),
                        region: part.region(),
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
