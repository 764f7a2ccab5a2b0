//! What a prediction is made from and what it holds; the families of causes fill it in.

use super::super::engine::{BANKS, ByBank, ByRegion, Point, Points, REGIONS, Setting};
use super::{
    bench::OnTheBench,
    purge_and_blend::{EMPTIES_S, Emptying, Held},
};

/// The engine as hypothesised, and how it was run.
#[derive(Debug, Clone, Copy)]
pub struct Engine<'a> {
    /// How it is built.
    pub setting: &'a Setting,
    /// How it was run.
    pub points: &'a Points,
    /// Banks it has.
    pub banks: usize,
    /// Share of what was recorded in each region that lies after a filling of the tank, where there was one.
    pub new_fuel: Option<ByRegion>,
    /// Whether its controller reads a high fuel pressure in the rail.
    pub reads_high_rail: bool,
    /// Share of what the fuel canister held that was still there while each region was recorded, for each time in which it
    /// may empty; `None` where nothing is known of the times.
    pub held: Option<[Held; EMPTIES_S.len()]>,
}

/// Where a cause sits. Banks count from 0, cylinders from 1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Place {
    /// Bank, where one is meant.
    pub bank: Option<usize>,
    /// Cylinder, where one is meant and named.
    pub cylinder: Option<u8>,
}

/// How well it is known how often cylinders fail that fail for a cause.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum FailingKnown {
    /// Roughly.
    #[default]
    Roughly,
    /// It hangs on the engine's lean limit, and so is known to within several times.
    ByLimit,
    /// It hangs steeply on more that is known roughly.
    Steeply,
    /// All cylinders fail much alike, so that none of them stands out.
    Alike,
}

/// What a cause would make the readings look like.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Prediction {
    /// Ethanol in the tank, new minus usual, as a share of volume.
    pub ethanol_change: f64,
    /// y by which the corrections moved with the filling of the tank, where the fuel came with it.
    pub came_with_filling: Option<f64>,
    /// Chance that the purge valve draws the same whatever is commanded.
    pub purge_hangs: f64,
    /// What goes as the fuel canister empties.
    pub emptying: Option<Emptying>,
    /// Whether the effect follows its formula closely everywhere, as chemistry does.
    pub follows_closely: bool,
    /// Rail pressure against the right one by region, as a logarithm.
    pub rail_log: ByRegion,
    /// Share of itself by which the effect may differ from bank to bank.
    pub bank_spread: f64,
    /// How well it is known how often cylinders fail.
    pub failing_known: FailingKnown,
    /// Metered air over true air by region, as a logarithm, on a car with an air flow meter.
    pub metered_log: ByRegion,
    /// y by bank and region from mixture alone.
    pub mixture: ByBank,
    /// y by bank and region from the oxygen that misfires leave, which comes and goes with them.
    pub misfire_oxygen: ByBank,
    /// Share of firings that fail on the cylinder meant.
    pub failing: ByRegion,
    /// Share of firings that fail on each other cylinder of the same bank, in the mean.
    pub failing_beside: ByRegion,
    /// Share of the cylinders beside that are spared of it, so that the others fail the more: which, nobody knows.
    pub spared_beside: f64,
    /// Share of firings that fail on each cylinder of other banks.
    pub failing_elsewhere: ByRegion,
    /// What the bench would show.
    pub bench: OnTheBench,
}

impl Prediction {
    /// This cause with another one at work that lets no cylinder fail: corrections add up in the
    /// logarithm.
    pub fn and(mut self, other: &Self) -> Self {
        for (bank, more) in self.mixture.iter_mut().zip(&other.mixture) {
            for (y, more) in bank.iter_mut().zip(more) {
                *y += more;
            }
        }
        for (metered, more) in self.metered_log.iter_mut().zip(other.metered_log) {
            *metered += more;
        }
        for (rail, more) in self.rail_log.iter_mut().zip(other.rail_log) {
            *rail += more;
        }
        self.follows_closely &= other.follows_closely;
        self.came_with_filling = self.came_with_filling.or(other.came_with_filling);
        self.purge_hangs = self.purge_hangs.max(other.purge_hangs);
        self.emptying = self.emptying.or(other.emptying);
        self.bench = self.bench.and(&other.bench);
        self.ethanol_change += other.ethanol_change;
        self
    }

    /// Share of firings that fail on a cylinder beside that is not spared.
    pub fn failing_of_those_hit(&self) -> ByRegion {
        let hit = 1.0 - self.spared_beside;
        self.failing_beside.map(|share| (share / hit).min(1.0))
    }

    /// Both terms of y.
    pub fn total(&self) -> ByBank {
        let mut total = self.mixture;
        for (bank, oxygen) in total.iter_mut().zip(&self.misfire_oxygen) {
            for (y, more) in bank.iter_mut().zip(oxygen) {
                *y += more;
            }
        }
        total
    }
}

impl Engine<'_> {
    /// y by bank and region from a formula for one bank (from 0) at one point of operation.
    pub(super) fn each(&self, formula: impl Fn(usize, &Point) -> f64) -> ByBank {
        let mut all = [[0.0; REGIONS]; BANKS];
        for (bank, regions) in all.iter_mut().take(self.banks).enumerate() {
            for (y, point) in regions.iter_mut().zip(self.points) {
                *y = formula(bank, point);
            }
        }
        all
    }

    /// The same where only the bank meant, or every bank when none is meant, is concerned.
    pub(super) fn at(&self, place: Place, formula: impl Fn(usize, &Point) -> f64) -> ByBank {
        self.each(|bank, point| match place.bank {
            Some(meant) if meant != bank => 0.0,
            _ => formula(bank, point),
        })
    }

    /// A value by region.
    pub(super) fn by_region(&self, formula: impl Fn(&Point) -> f64) -> ByRegion {
        self.points.each_ref().map(formula)
    }

    /// Cylinders of the bank meant.
    pub(super) fn cylinders_at(&self, place: Place) -> f64 {
        let bank = place.bank.unwrap_or(0);
        self.setting.of_bank(bank)
    }

    /// Warm idle.
    pub(super) const fn idle(&self) -> &Point {
        let [idle, ..] = self.points;
        idle
    }

    /// Light cruise.
    pub(super) const fn cruise(&self) -> &Point {
        let [_, _, cruise, _] = self.points;
        cruise
    }

    /// Under load.
    pub(super) const fn loaded(&self) -> &Point {
        let [.., loaded] = self.points;
        loaded
    }
}
