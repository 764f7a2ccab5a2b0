//! What a prediction is made from and what it holds; the families of causes fill it in.

use crate::{
    bank::{Bank, ByBank},
    series::label::region::{ByRegion, Region},
};

use super::super::engine::{Point, Points, Setting};
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
    pub new_fuel: Option<ByRegion<f64>>,
    /// Whether its controller reads a high fuel pressure in the rail.
    pub reads_high_rail: bool,
    /// Share of what the fuel canister held that was still there while each region was recorded, for each time in which it
    /// may empty; `None` where nothing is known of the times.
    pub held: Option<[Held; EMPTIES_S.len()]>,
}

/// Where a cause sits.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Place {
    /// Bank, where one is meant.
    pub bank: Option<Bank>,
    /// Cylinder, from 1, where one is meant and named.
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

/// y by bank and region.
pub type TrimEffect = ByBank<ByRegion<f64>>;

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
    pub rail_log: ByRegion<f64>,
    /// Share of itself by which the effect may differ from bank to bank.
    pub bank_spread: f64,
    /// How well it is known how often cylinders fail.
    pub failing_known: FailingKnown,
    /// Metered air over true air by region, as a logarithm, on a car with an air flow meter.
    pub metered_log: ByRegion<f64>,
    /// y by bank and region from mixture alone.
    pub mixture: TrimEffect,
    /// y by bank and region from the oxygen that misfires leave, which comes and goes with them.
    pub misfire_oxygen: TrimEffect,
    /// Share of firings that fail on the cylinder meant.
    pub failing: ByRegion<f64>,
    /// Share of firings that fail on each other cylinder of the same bank, in the mean.
    pub failing_beside: ByRegion<f64>,
    /// Share of the cylinders beside that are spared of it, so that the others fail the more: which, nobody knows.
    pub spared_beside: f64,
    /// Share of firings that fail on each cylinder of other banks.
    pub failing_elsewhere: ByRegion<f64>,
    /// What the bench would show.
    pub bench: OnTheBench,
}

impl Prediction {
    /// This cause with another one at work that lets no cylinder fail: corrections add up in the
    /// logarithm.
    pub fn and(mut self, other: &Self) -> Self {
        self.mixture = sum(self.mixture, &other.mixture);
        self.metered_log = self
            .metered_log
            .map(|region, log| log + other.metered_log[region]);
        self.rail_log = self
            .rail_log
            .map(|region, log| log + other.rail_log[region]);
        self.follows_closely &= other.follows_closely;
        self.came_with_filling = self.came_with_filling.or(other.came_with_filling);
        self.purge_hangs = self.purge_hangs.max(other.purge_hangs);
        self.emptying = self.emptying.or(other.emptying);
        self.bench = self.bench.and(&other.bench);
        self.ethanol_change += other.ethanol_change;
        self
    }

    /// Share of firings that fail on a cylinder beside that is not spared.
    pub fn failing_of_those_hit(&self) -> ByRegion<f64> {
        let hit = 1.0 - self.spared_beside;
        self.failing_beside.map(|_, share| (share / hit).min(1.0))
    }

    /// Both terms of y.
    pub fn total(&self) -> TrimEffect {
        sum(self.mixture, &self.misfire_oxygen)
    }
}

fn sum(one: TrimEffect, other: &TrimEffect) -> TrimEffect {
    one.map(|bank, regions| regions.map(|region, y| y + other[bank][region]))
}

impl Engine<'_> {
    /// The banks that it has.
    pub(super) fn banks(&self) -> impl Iterator<Item = Bank> + use<> {
        Bank::ALL.into_iter().take(self.banks)
    }

    /// y by bank and region from a formula for one bank at one point of operation.
    pub(super) fn each(&self, formula: impl Fn(Bank, &Point) -> f64) -> TrimEffect {
        let mut all = TrimEffect::default();
        for bank in self.banks() {
            all[bank] = self.by_region(|point| formula(bank, point));
        }
        all
    }

    /// The same where only the bank meant, or every bank when none is meant, is concerned.
    pub(super) fn at(&self, place: Place, formula: impl Fn(Bank, &Point) -> f64) -> TrimEffect {
        self.each(|bank, point| match place.bank {
            Some(meant) if meant != bank => 0.0,
            _ => formula(bank, point),
        })
    }

    /// A value by region.
    pub(super) fn by_region(&self, formula: impl Fn(&Point) -> f64) -> ByRegion<f64> {
        ByRegion::from_fn(|region| formula(&self.points[region]))
    }

    /// Cylinders of the bank meant.
    pub(super) fn cylinders_at(&self, place: Place) -> f64 {
        let bank = place.bank.unwrap_or_default();
        self.setting.of_bank(bank)
    }

    /// Warm idle.
    pub(super) fn idle(&self) -> &Point {
        &self.points[Region::WarmIdle]
    }

    /// Light cruise.
    pub(super) fn cruise(&self) -> &Point {
        &self.points[Region::LightCruise]
    }

    /// Under load.
    pub(super) fn loaded(&self) -> &Point {
        &self.points[Region::Loaded]
    }
}
