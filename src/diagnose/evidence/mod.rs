//! Pieces of evidence: one file for each thing that can be read of a car, with how well an explanation fits it and what it
//! says as plain values. [`REGISTRY`] lists them all; what was not read is not among the pieces.

pub mod bench;
pub mod breathing;
pub mod codes;
mod contrast;
pub mod drift;
mod fact;
pub mod filling;
mod fuel;
mod full_load;
pub mod misfires;
mod purge;
pub mod rail;
mod steps;
pub mod trims;

use std::{fmt, rc::Rc};

use crate::{
    bench::Findings,
    series::{label::region::ByRegion, summary::Summary},
    vehicle::Vehicle,
};

use super::{
    diagnosis::{Misfires, Trim},
    engine::{Banks, Points},
    forward::{EMPTIES_S, Held, Place, Prediction},
};
use bench::Bench;
use codes::Suspect;
use trims::{Steps, Trims};

pub use fact::{BenchFact, Fact};
pub use filling::Tank;
pub use rail::Against;

/// Everything that can be read of a car, in the order in which it is weighed and told: each piece is weighed given those
/// before it.
const REGISTRY: [fn(&Sources<'_>) -> Option<Piece>; 17] = [
    trims::banks,
    trims::regions,
    trims::level,
    misfires::read,
    contrast::read,
    codes::read,
    fuel::read,
    breathing::read,
    rail::read,
    filling::read,
    purge::read,
    drift::read,
    bench::windings,
    bench::flow,
    bench::leakage,
    bench::pressure,
    bench::power,
];

/// Share of cases in which a piece of evidence has come about in a way that nothing here describes
/// (assumed: one recording in thirty is odd in one of its readings, by driver, weather, logger or
/// an earlier repair).
const OUTLIER_RATE: f64 = 0.03;

/// Degrees of freedom of the tails where nothing else is said: cars do more than any table knows (t with five degrees of
/// freedom: Lange, Little and Taylor, *Journal of the American Statistical Association* 84 (1989) 881, from memory; common
/// practice).
const DEGREES_OF_FREEDOM: f64 = 5.0;

/// What evidence is read from.
pub struct Sources<'a> {
    /// The captures of one car.
    pub summaries: &'a [Summary],
    /// Its vehicle file.
    pub vehicle: &'a Vehicle,
    /// Its banks.
    pub banks: &'a Banks,
    /// How the engine was run.
    pub points: &'a Points,
    /// Total fuel trim by bank and region, as the finding gives it.
    pub trims: &'a [Trim],
    /// Misfires, as the finding gives them.
    pub misfires: &'a Misfires,
    /// Trouble codes met, each once.
    pub codes: &'a [String],
    /// All fuel trims together; their steps are pieces.
    pub all_trims: Option<Rc<Trims>>,
    /// All bench readings together; each kind is a piece.
    pub bench: Option<Rc<Bench>>,
    /// What the bench readings say by themselves.
    pub found: Option<&'a Findings>,
}

/// An explanation that evidence is weighed under.
pub struct Case<'a> {
    /// What it predicts.
    pub prediction: &'a Prediction,
    /// How well the fuel trims fit, step by step: they are weighed together.
    pub trims: Steps,
    /// The causes at work, with their places; empty while it does not matter which cylinder is meant.
    pub suspects: &'a [Suspect],
    /// Cylinders of the engine.
    pub cylinders: f64,
    /// Its banks.
    pub banks: &'a Banks,
}

impl Case<'_> {
    /// Place of the first cause.
    fn place(&self) -> Place {
        let first = self.suspects.first();
        first.map_or(Place::default(), |suspect| suspect.place)
    }
}

/// What has to be known to weigh a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// The prediction alone: it is the same whichever cylinder of a bank is meant.
    Bank,
    /// Also the cylinder.
    Cylinder,
}

/// What predictions take from what was read.
#[derive(Debug, Clone, Default)]
pub struct Conditions {
    /// Share of each region's recording that lies after a refuelling, where there was one.
    pub new_fuel: Option<ByRegion<f64>>,
    /// Whether the controller reads a high fuel pressure in the rail.
    pub reads_high_rail: bool,
    /// Share of what a fuel canister held that was still there, where that is known.
    pub held: Option<[Held; EMPTIES_S.len()]>,
    /// Whether anything tells cylinders apart.
    pub tells_cylinders: bool,
}

/// Something read, with how well explanations fit it.
pub trait Evidence: fmt::Debug {
    /// Logarithm of the likelihood, given the pieces before it, up to what is the same for all explanations.
    fn log_likelihood(&self, case: &Case<'_>) -> f64;

    /// What has to be known for that.
    fn reach(&self) -> Reach {
        Reach::Bank
    }

    /// Adds what predictions take from it.
    fn inform(&self, _conditions: &mut Conditions) {}
}

/// A piece of evidence that was read.
#[derive(Debug)]
pub struct Piece {
    /// Share of cases in which it has come about in a way that nothing here describes.
    pub outlier_rate: f64,
    /// What was read, as values; `None` where it is not worth telling.
    pub fact: Option<Fact>,
    /// How well explanations fit it.
    pub evidence: Box<dyn Evidence>,
}

impl Piece {
    fn new(evidence: impl Evidence + 'static, fact: Option<Fact>) -> Self {
        Self {
            outlier_rate: OUTLIER_RATE,
            fact,
            evidence: Box::new(evidence),
        }
    }

    fn with_outlier_rate(self, outlier_rate: f64) -> Self {
        Self {
            outlier_rate,
            ..self
        }
    }
}

/// The pieces that were read of a car, in the registry's order.
pub fn read(sources: &Sources<'_>) -> Vec<Piece> {
    REGISTRY.iter().filter_map(|piece| piece(sources)).collect()
}
