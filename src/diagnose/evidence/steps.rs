//! The order in which fuel trims are weighed: banks against each other, regions against each other, the level.

use nalgebra::{DMatrix, DVector};

use crate::{bank::Bank, series::label::region::Region};

/// Number of steps in which the fuel trims are weighed.
pub const STEPS: usize = 3;

/// One bank in one region.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TrimKey {
    /// Bank.
    pub bank: Bank,
    /// Region.
    pub region: Region,
}

/// The matrix that turns places into bank differences, region differences and the level, and the row at which each step
/// ends.
pub fn steps(keys: &[TrimKey]) -> (DMatrix<f64>, [usize; STEPS]) {
    let n = keys.len();
    let mut rows: Vec<DVector<f64>> = Vec::with_capacity(n);
    let regions: Vec<(Region, Vec<usize>)> = Region::ALL
        .into_iter()
        .map(|region| {
            let here = keys.iter().enumerate().filter(|(_, p)| p.region == region);
            (region, here.map(|(index, _)| index).collect::<Vec<_>>())
        })
        .filter(|(_, here)| !here.is_empty())
        .collect();
    for (_, here) in &regions {
        for (first, other) in here.first().iter().flat_map(|first| {
            let others = here.iter().skip(1);
            others.map(|other| (**first, *other))
        }) {
            rows.push(combination(n, &[(first, 1.0), (other, -1.0)]));
        }
    }
    let banks_end = rows.len();
    let means: Vec<DVector<f64>> = regions.iter().map(|(_, here)| mean_of(n, here)).collect();
    let later = means.iter().skip(1);
    rows.extend(means.iter().zip(later).map(|(one, next)| next - one));
    let regions_end = rows.len();
    let all: Vec<usize> = (0..n).collect();
    rows.push(mean_of(n, &all));
    let transposed: Vec<_> = rows.iter().map(|row| row.transpose()).collect();
    (
        DMatrix::from_rows(&transposed),
        [banks_end, regions_end, rows.len()],
    )
}

fn combination(n: usize, parts: &[(usize, f64)]) -> DVector<f64> {
    let mut row = DVector::zeros(n);
    for (index, factor) in parts {
        if let Some(cell) = row.get_mut(*index) {
            *cell += factor;
        }
    }
    row
}

fn mean_of(n: usize, indexes: &[usize]) -> DVector<f64> {
    let share = 1.0 / indexes.len().max(1) as f64;
    let parts: Vec<(usize, f64)> = indexes.iter().map(|index| (*index, share)).collect();
    combination(n, &parts)
}
