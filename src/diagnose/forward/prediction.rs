//! The inputs of a prediction, and what it holds; the families of causes fill it in.

use crate::{
    bank::{Bank, ByBank},
    series::label::region::{ByRegion, Region},
};

use super::{
    super::engine::{EngineConfig, Point, Points},
    bench::OnTheBench,
    purge_and_blend::{CanisterLeft, EMPTIES_S, Emptying},
};

/// The engine as hypothesised, and how it was run.
#[derive(Debug, Clone, Copy)]
/// y by bank and region from a formula for one bank (from 0) at one operating point.
pub struct EngineModel<'a> {
    /// How the engine is built.
    pub config: &'a EngineConfig,
    /// How the engine was run, by region.
    pub points: &'a Points,
    /// Number of banks.
    pub banks: usize,
    /// Share of each region's recording that lies after a refuelling, 0 to 1; `None` where there was none.
    pub new_fuel: Option<ByRegion<f64>>,
    /// Whether the controller reads a high fuel pressure in the rail.
    pub reads_high_rail: bool,
    /// Share of the fuel canister's charge that was left while each region was recorded, for each emptying time; `None`
    /// where the times are not known.
    pub canister_left: Option<[CanisterLeft; EMPTIES_S.len()]>,
}

/// Where a cause sits.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Location {
    /// Bank, from 0; `None` for the whole engine.
    pub bank: Option<Bank>,
    /// Cylinder, from 1; `None` where no cylinder is meant or named.
    pub cylinder: Option<u8>,
}

/// How precisely the share of failing firings is known for a cause.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum FailingKnown {
    /// The share is known roughly.
    #[default]
    Roughly,
    /// The share depends on the engine's lean limit and is known within a factor of several.
    ByLimit,
    /// The share depends steeply on more unknowns.
    Steeply,
    /// All cylinders fail much alike, so that none stands out.
    Alike,
}

/// y by bank and region.
pub type TrimEffect = ByBank<ByRegion<f64>>;

/// What a cause would make the readings look like.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Prediction {
    /// Change of the ethanol in the tank, new minus usual, as a share of volume.
    pub ethanol_change: f64,
    /// Change of y at refuelling; `None` where the fuel did not come with it.
    pub came_with_refuelling: Option<f64>,
    /// Probability that the purge valve flows the same whatever is commanded, 0 to 1.
    pub purge_hangs: f64,
    /// Change while the fuel canister empties; `None` for causes that do not draw on it.
    pub emptying: Option<Emptying>,
    /// Whether the effect follows its formula closely in every region, as chemistry does.
    pub follows_closely: bool,
    /// Rail pressure as a ratio to the right one, by region, natural logarithm.
    pub rail_log: ByRegion<f64>,
    /// Standard deviation of the effect from bank to bank, as a share of the effect.
    pub bank_spread: f64,
    /// How precisely the share of failing firings is known.
    pub failing_known: FailingKnown,
    /// Ratio of metered to true air by region, natural logarithm, on a car with a MAF sensor.
    pub metered_log: ByRegion<f64>,
    /// y by bank and region from the mixture alone.
    pub mixture: TrimEffect,
    /// y by bank and region from the oxygen that misfires leave, which comes and goes with them.
    pub misfire_oxygen: TrimEffect,
    /// Share of firings that fail on the place's cylinder, by region, 0 to 1.
    pub failing: ByRegion<f64>,
    /// Mean share of firings that fail on each other cylinder of the same bank, by region, 0 to 1.
    pub failing_others: ByRegion<f64>,
    /// Share of the other cylinders that do not fail, 0 to 1, so that the rest fail more often; which ones is not
    /// known.
    pub spared_others: f64,
    /// Share of firings that fail on each cylinder of other banks, by region, 0 to 1.
    pub failing_elsewhere: ByRegion<f64>,
    /// What the bench would show.
    pub bench: OnTheBench,
}

impl Prediction {
    /// Combines this cause with a second one that makes no cylinder fail: their fuel trims add as logarithms.
    pub fn and(mut self, other: &Self) -> Self {
        self.mixture = sum(self.mixture, &other.mixture);
        self.metered_log = self
            .metered_log
            .map(|region, log| log + other.metered_log[region]);
        self.rail_log = self
            .rail_log
            .map(|region, log| log + other.rail_log[region]);
        self.follows_closely &= other.follows_closely;
        self.came_with_refuelling = self.came_with_refuelling.or(other.came_with_refuelling);
        self.purge_hangs = self.purge_hangs.max(other.purge_hangs);
        self.emptying = self.emptying.or(other.emptying);
        self.bench = self.bench.and(&other.bench);
        self.ethanol_change += other.ethanol_change;
        self
    }

    /// Share of firings that fail on one of the other cylinders that do fail, by region, 0 to 1.
    pub fn failing_of_those_hit(&self) -> ByRegion<f64> {
        let hit = 1.0 - self.spared_others;
        self.failing_others.map(|_, share| (share / hit).min(1.0))
    }

    /// y by bank and region: mixture and misfire oxygen together.
    pub fn total(&self) -> TrimEffect {
        sum(self.mixture, &self.misfire_oxygen)
    }
}

fn sum(one: TrimEffect, other: &TrimEffect) -> TrimEffect {
    one.map(|bank, regions| regions.map(|region, y| y + other[bank][region]))
}

impl EngineModel<'_> {
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

    /// y by bank and region from a formula for one operating point, on the place's bank only, or on every bank where
    /// the place has none.
    pub(super) fn at(
        &self,
        location: Location,
        formula: impl Fn(Bank, &Point) -> f64,
    ) -> TrimEffect {
        self.each(|bank, point| match location.bank {
            Some(meant) if meant != bank => 0.0,
            _ => formula(bank, point),
        })
    }

    /// A value by region from a formula for one operating point.
    pub(super) fn by_region(&self, formula: impl Fn(&Point) -> f64) -> ByRegion<f64> {
        ByRegion::from_fn(|region| formula(&self.points[region]))
    }

    /// Number of cylinders of the place's bank.
    pub(super) fn cylinders_at(&self, location: Location) -> f64 {
        let bank = location.bank.unwrap_or_default();
        self.config.cylinders_of(bank)
    }

    /// Operating point at warm idle.
    pub(super) fn idle(&self) -> &Point {
        &self.points[Region::WarmIdle]
    }

    /// Operating point at light cruise.
    pub(super) fn cruise(&self) -> &Point {
        &self.points[Region::LightCruise]
    }

    /// Operating point under load.
    pub(super) fn loaded(&self) -> &Point {
        &self.points[Region::Loaded]
    }
}
