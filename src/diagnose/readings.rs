//! Everything read about a car, ready to be held against predictions.

use crate::{series::summary::Summary, vehicle::Vehicle};

use super::{
    engine::{self, BANKS, ByRegion, Points, Setting},
    forward::{EMPTIES_S, Held, OnTheBench, Place, Prediction},
    likelihood::{
        bench::{self, Bench},
        breathing::Breathing,
        codes::{Codes, Suspect},
        contrast::Contrast,
        drift::Drift,
        filling::Filling,
        fuel::Fuel,
        misfires::Misfires,
        purge::Purge,
        rail::Rail,
        steps::STEPS,
        trims::Trims,
    },
};

/// Pieces of evidence: the steps of the corrections, misfires, corrections while nothing misfires,
/// codes, the fuel reported, the air metered, the rail's pressure, the filling of
/// the tank, commanded purge, the course of the trip, then the bench.
pub const PIECES: usize = BENCH_FROM + bench::PIECES;
/// The piece of the misfires.
pub const MISFIRES: usize = STEPS;
/// First piece of the bench.
pub const BENCH_FROM: usize = STEPS + 9;

/// Logarithm of the likelihood of each piece of evidence, given the pieces before it.
pub type Pieces = [f64; PIECES];

/// Likelihood of the corrections alone.
#[derive(Debug, Clone, Copy)]
pub struct OfCorrections {
    steps: [f64; STEPS],
    contrast: f64,
    rail: f64,
    filling: f64,
    purge: f64,
    drift: f64,
}

/// What was read of one car, and how it may be built.
#[derive(Debug)]
pub struct Readings {
    trims: Option<Trims>,
    misfires: Option<Misfires>,
    contrast: Option<Contrast>,
    codes: Option<Codes>,
    fuel: Option<Fuel>,
    breathing: Option<Breathing>,
    rail: Option<Rail>,
    filling: Option<Filling>,
    new_fuel: Option<ByRegion>,
    purge: Option<Purge>,
    drift: Option<Drift>,
    bench: Option<Bench>,
    settings: Vec<Setting>,
    points: Points,
    banks: usize,
    vehicle: Vehicle,
}

impl Readings {
    /// Takes the captures of one car, and what was read on its bench, together.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle, bench: Option<Bench>) -> Self {
        let banks = engine::bank_count(summaries, vehicle);
        let bench = bench.filter(Bench::tells_something);
        let points = engine::points(summaries, vehicle);
        let mut on_bench: Vec<u8> = bench.iter().flat_map(Bench::cylinders).collect();
        on_bench.sort_unstable();
        on_bench.dedup();
        let filling = Filling::new(summaries);
        Self {
            settings: engine::settings(summaries, vehicle, &on_bench),
            trims: Trims::new(summaries),
            misfires: Misfires::new(summaries),
            contrast: Contrast::new(summaries),
            codes: Codes::new(summaries, banks),
            fuel: Fuel::new(summaries),
            breathing: Breathing::new(summaries, vehicle),
            rail: Rail::new(summaries, vehicle, &points),
            new_fuel: filling.as_ref().and_then(Filling::new_fuel),
            filling,
            purge: Purge::new(summaries),
            drift: Drift::new(summaries),
            bench,
            points,
            banks,
            vehicle: vehicle.clone(),
        }
    }

    /// Banks of the engine.
    pub const fn banks(&self) -> usize {
        self.banks
    }

    /// Every way the engine may be built.
    pub fn settings(&self) -> &[Setting] {
        &self.settings
    }

    /// How it was run.
    pub const fn points(&self) -> &Points {
        &self.points
    }

    /// Likelihood of the corrections and of the rail's pressure under a prediction: the same whichever
    /// cylinder of a bank is meant.
    pub fn of_corrections(&self, prediction: &Prediction) -> OfCorrections {
        let steps = self
            .trims
            .as_ref()
            .map_or([0.0; STEPS], |trims| trims.log_likelihood(prediction));
        let contrast = self.contrast.as_ref();
        let contrast = contrast.map_or(0.0, |contrast| contrast.log_likelihood(prediction));
        let rail = self.rail.as_ref();
        let rail = rail.map_or(0.0, |rail| rail.log_likelihood(prediction));
        let filling = self.filling.as_ref();
        let filling = filling.map_or(0.0, |filling| filling.log_likelihood(prediction));
        let purge = self.purge.as_ref();
        let purge = purge.map_or(0.0, |purge| purge.log_likelihood(prediction));
        let drift = self.drift.as_ref();
        let drift = drift.map_or(0.0, |drift| drift.log_likelihood(prediction));
        OfCorrections {
            steps,
            contrast,
            rail,
            filling,
            purge,
            drift,
        }
    }

    /// The prediction with the misfires of what the trims, at their stop, could not make up for.
    pub fn left_lean(&self, place: Place, prediction: Prediction) -> Prediction {
        match &self.trims {
            Some(trims) => prediction.left_lean(place, &trims.lacking(&prediction.total())),
            None => prediction,
        }
    }

    /// The prediction without what nobody has read.
    pub fn as_far_as_read(&self, prediction: Prediction) -> Prediction {
        match self.bench {
            Some(_) => prediction,
            None => Prediction {
                bench: OnTheBench::default(),
                ..prediction
            },
        }
    }

    /// Adds misfires, codes and bench readings with these suspects; misfires and bench are those of
    /// the first one's place.
    pub fn with_cylinder(
        &self,
        corrections: OfCorrections,
        suspects: &[Suspect],
        prediction: &Prediction,
        setting: &Setting,
    ) -> Pieces {
        let place = suspects
            .first()
            .map_or(Place::default(), |suspect| suspect.place);
        let misfires = self.misfires.as_ref().map_or(0.0, |misfires| {
            misfires.log_likelihood(place, prediction, |cylinder| self.bank_of(cylinder))
        });
        let codes = self.codes.as_ref().map_or(0.0, |codes| {
            codes.log_likelihood(suspects, prediction, setting.total())
        });
        let fuel = self
            .fuel
            .map_or(0.0, |fuel| fuel.log_likelihood(prediction));
        let breathing = self.breathing;
        let breathing = breathing.map_or(0.0, |breathing| breathing.log_likelihood(prediction));
        let bench = self.bench.as_ref().map_or([0.0; bench::PIECES], |bench| {
            bench.log_likelihood(place, &prediction.bench, |cylinder| self.bank_of(cylinder))
        });
        let [banks, regions, level] = corrections.steps;
        let OfCorrections {
            contrast,
            rail,
            filling,
            purge,
            drift,
            ..
        } = corrections;
        let on_the_road = [
            banks, regions, level, misfires, contrast, codes, fuel, breathing, rail, filling,
            purge, drift,
        ];
        let mut pieces = [0.0; PIECES];
        for (piece, value) in pieces.iter_mut().zip(on_the_road.into_iter().chain(bench)) {
            *piece = value;
        }
        pieces
    }

    /// Numbers of all cylinders where counters, codes or the bench tell them apart, else none.
    pub fn cylinders_told_apart(&self, setting: &Setting) -> Vec<u8> {
        let total = setting.total().round() as u8;
        let counters = self.misfires.iter().flat_map(Misfires::numbers);
        let codes = self.codes.iter().flat_map(Codes::cylinders);
        let bench = self.bench.iter().flat_map(Bench::cylinders);
        match counters.chain(codes).chain(bench).max() {
            Some(_) => (1..=total).collect(),
            None => Vec::new(),
        }
    }

    /// Bank (from 0) of a cylinder, where it is known.
    pub fn bank_of(&self, cylinder: u8) -> Option<usize> {
        if self.banks == 1 {
            return Some(0);
        }
        let bank = self.vehicle.bank_of(cylinder)?;
        Some(usize::from(bank) - 1).filter(|bank| *bank < BANKS)
    }

    /// What the air meter tells too much against what the engine breathes, percent, where that is known.
    pub fn metered_surplus_pct(&self) -> Option<f64> {
        self.breathing.and_then(|breathing| breathing.surplus_pct())
    }

    /// The rail's pressure, where it was told.
    pub const fn rail(&self) -> Option<&Rail> {
        self.rail.as_ref()
    }

    /// Whether the controller reads a high fuel pressure in the rail.
    pub fn reads_high_rail(&self) -> bool {
        self.rail.as_ref().is_some_and(Rail::is_high)
    }

    /// Whether the corrections moved with the tank, where that is known.
    pub const fn filling(&self) -> Option<&Filling> {
        self.filling.as_ref()
    }

    /// Share of each region's recording that lies after a filling of the tank, where there was one.
    pub const fn new_fuel(&self) -> Option<ByRegion> {
        self.new_fuel
    }

    /// How the correction went in the course of the trips, where that was seen.
    pub const fn drift(&self) -> Option<&Drift> {
        self.drift.as_ref()
    }

    /// Share of what a fuel canister held that was still there, where that is known.
    pub fn held(&self) -> Option<[Held; EMPTIES_S.len()]> {
        self.drift.as_ref().map(Drift::held)
    }

    /// The correction with purge commanded open and shut, where both were seen.
    pub const fn purge(&self) -> Option<&Purge> {
        self.purge.as_ref()
    }

    /// The highest load told while the engine was asked for all it has, percent, where that was seen.
    pub fn full_load_pct(&self) -> Option<f64> {
        self.breathing
            .and_then(|breathing| breathing.full_load_pct())
    }

    /// Cylinders that a single one is looked for among, where none is named: the most probable
    /// count.
    pub fn likely_cylinders(&self) -> f64 {
        let most = self
            .settings
            .iter()
            .max_by(|a, b| a.log_weight.total_cmp(&b.log_weight));
        most.map_or(4.0, Setting::total)
    }
}
