//! What one capture contributes to a comparison: mean fuel trims by region and cell, and their errors.
//!
//! The error within a trip is that of the region's mean (from means over stretches of 30 s and longer, which exceeds
//! the memory of fuel trims), scaled to the cells and weights in use. Errors of single cells would be wrong: seconds in
//! neighbouring cells are seconds apart in time and share their slow variation, so that treating cells as independent
//! would make a sum over many cells look far more certain than it is.
//!
//! At a standstill all loads are one box per speed class: nobody chooses the load of an idle, and the work itself
//! changes it, so that pairing by load would leave nothing to compare where dirt shows most.

use std::collections::{BTreeMap, BTreeSet};

use crate::series::{
    gather::{cell::Cell, estimate::slow_variance},
    label::region::{ByRegion, Region},
    summary::{CellSummary, Summary},
};

/// One box of one region.
pub type Box = (Region, Cell);

/// Seconds in a box and the mean of y over them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Region and cell of the box.
    pub at: Box,
    /// Mean of y = ln C.
    pub mean_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
}

impl Held {
    fn add(&mut self, cell: &CellSummary) {
        let seconds = self.seconds + cell.seconds;
        self.mean_log += (cell.mean_log - self.mean_log) * cell.seconds / seconds;
        self.seconds = seconds;
    }
}

/// Variance of a region's mean within one trip.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Inside {
    /// Variance of the mean over all seconds of the region, in squared logarithm, that averages out with more of them.
    pub stretches: f64,
    /// Variance in squared logarithm that all cells share.
    pub slow: f64,
    /// Seconds of the region.
    pub seconds: f64,
}

/// One trip of one value: a bank, a difference of banks, or their mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    /// Boxes with their seconds and means.
    pub held: Vec<Held>,
    /// Errors by region.
    pub inside: ByRegion<Inside>,
}

impl Trip {
    /// One bank's fuel trim.
    pub fn of_bank(summary: &Summary, bank: u8) -> Self {
        let mut held: Vec<Held> = Vec::new();
        for (at, cell) in cells(summary, bank) {
            match held.iter_mut().find(|held| held.at == at) {
                Some(known) => known.add(cell),
                None => held.push(Held {
                    at,
                    mean_log: cell.mean_log,
                    seconds: cell.seconds,
                }),
            }
        }
        Self {
            held,
            inside: ByRegion::from_fn(|region| inside(summary, bank, region)),
        }
    }

    /// Fuel trim of bank 1 minus another bank's.
    pub fn of_difference(summary: &Summary, other: u8) -> Self {
        let first = Self::of_bank(summary, 1);
        let second = Self::of_bank(summary, other);
        let both = first.held.iter().filter_map(|one| {
            let two = second.held.iter().find(|two| two.at == one.at)?;
            Some(Held {
                at: one.at,
                mean_log: one.mean_log - two.mean_log,
                seconds: one.seconds.min(two.seconds),
            })
        });
        let error = |region| {
            let mut all = summary.bank_differences.iter();
            let here = all.find(|d| d.other == other && d.region == region);
            here.map_or_else(Inside::default, |d| Inside {
                stretches: d.std_error_log.powi(2),
                slow: 0.0,
                seconds: d.seconds,
            })
        };
        Self {
            held: both.collect(),
            inside: ByRegion::from_fn(error),
        }
    }

    /// Mean fuel trim of several banks; they share most of their errors, so that it is no more certain than one bank's.
    pub fn of_mean(summary: &Summary, banks: &[u8]) -> Self {
        let Some(first) = banks.first() else {
            return Self::of_bank(summary, 1);
        };
        let all: Vec<Self> = banks
            .iter()
            .map(|bank| Self::of_bank(summary, *bank))
            .collect();
        let mut mean = Self::of_bank(summary, *first);
        mean.held.retain_mut(|held| {
            let same = all.iter().filter_map(|bank| {
                let mut boxes = bank.held.iter();
                boxes
                    .find(|other| other.at == held.at)
                    .map(|other| other.mean_log)
            });
            let known: Vec<f64> = same.collect();
            held.mean_log = known.iter().sum::<f64>() / known.len().max(1) as f64;
            known.len() == all.len()
        });
        mean
    }

    /// Seconds and mean of a box; `None` where the trip lacks it.
    pub fn at(&self, at: Box) -> Option<&Held> {
        self.held.iter().find(|held| held.at == at)
    }
}

/// Seconds of every box of a capture, whatever the bank.
pub fn box_seconds(summary: &Summary) -> BTreeMap<Box, f64> {
    let banks: BTreeSet<u8> = summary.cells.iter().map(|cell| cell.bank).collect();
    let mut all = BTreeMap::new();
    for held in banks
        .into_iter()
        .flat_map(|bank| Trip::of_bank(summary, bank).held)
    {
        let seconds: &mut f64 = all.entry(held.at).or_default();
        *seconds = seconds.max(held.seconds);
    }
    all
}

fn cells(summary: &Summary, bank: u8) -> impl Iterator<Item = (Box, &CellSummary)> {
    let own = summary.cells.iter().filter(move |cell| cell.bank == bank);
    own.filter_map(|cell| Some((box_of(cell.region?, cell.cell), cell)))
}

/// The box of a cell in a region.
pub fn box_of(region: Region, cell: Cell) -> Box {
    let load = match region {
        Region::WarmIdle | Region::RaisedIdle => 0,
        Region::LightCruise | Region::Loaded => cell.load,
    };
    (region, Cell { load, ..cell })
}

fn inside(summary: &Summary, bank: u8, region: Region) -> Inside {
    let mut trims = summary.trims.iter();
    let trim = trims.find(|trim| (trim.bank, trim.region) == (bank, region));
    trim.map_or_else(Inside::default, |trim| {
        let slow = slow_variance(trim.seconds);
        Inside {
            stretches: (trim.std_error_log.powi(2) - slow).max(0.0),
            slow,
            seconds: trim.seconds,
        }
    })
}
