//! Pieces of evidence: one file for each thing that can be read about a car, with how well an explanation fits it and
//! what it shows as plain values. [`REGISTRY`] lists them all; what was not read is not among the pieces.

pub mod bench;
pub mod breathing;
pub mod codes;
mod contrast;
pub mod drift;
mod fuel;
mod full_load;
pub mod misfires;
mod purge;
pub mod rail;
pub mod refuel;
mod steps;
pub mod trims;

use std::{fmt, rc::Rc};

use pintle_protocol::dtc::TroubleCode;

use crate::{
    bench::Findings,
    series::{label::region::ByRegion, summary::Summary},
    vehicle::Vehicle,
};

use super::{
    diagnosis::{Misfires, Trim},
    engine::{Banks, Points},
    fact::{BenchFact, Fact},
    forward::{CanisterLeft, EMPTIES_S, Location, Prediction},
};
use bench::Bench;
use codes::Suspect;
use trims::{Steps, TrimEvidence};

/// Everything that can be read about a car, in the order in which it is weighed and reported: each piece is weighed
/// given those before it.
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
    refuel::read,
    purge::read,
    drift::read,
    bench::windings,
    bench::flow,
    bench::leakage,
    bench::pressure,
    bench::power,
];

/// Probability, 0 to 1, that a piece of evidence arose in a way that no prediction covers (assumed: one recording in
/// thirty is odd in one of its readings, by driver, weather, logger or an earlier repair). It bounds how far one piece
/// can move the odds.
const OUTLIER_RATE: f64 = 0.03;

/// Degrees of freedom of Student's t where nothing else is stated: cars do more than any table knows (five degrees of
/// freedom: Lange, Little and Taylor, *Journal of the American Statistical Association* 84 (1989) 881, from memory;
/// common practice).
const DEGREES_OF_FREEDOM: f64 = 5.0;

/// Sources that evidence is read from.
pub struct Sources<'a> {
    /// The captures of one car.
    pub summaries: &'a [Summary],
    /// The car's vehicle file.
    pub vehicle: &'a Vehicle,
    /// The engine's banks.
    pub banks: &'a Banks,
    /// Operating points, region by region.
    pub points: &'a Points,
    /// Total fuel trim by bank and region, as in the diagnosis.
    pub trims: &'a [Trim],
    /// Misfires, as in the diagnosis.
    pub misfires: &'a Misfires,
    /// Trouble codes found, each once.
    pub codes: &'a [TroubleCode],
    /// All fuel trims together; each of their steps is a piece.
    pub all_trims: Option<Rc<TrimEvidence>>,
    /// All bench readings together; each kind is a piece.
    pub bench: Option<Rc<Bench>>,
    /// What the bench readings say by themselves.
    pub found: Option<&'a Findings>,
}

/// An explanation under which evidence is weighed.
pub struct Case<'a> {
    /// Prediction of the explanation.
    pub prediction: &'a Prediction,
    /// Log-likelihoods of the fuel trims, step by step: they are computed together.
    pub trims: Steps,
    /// The causes at work, with their places; empty while the cylinder does not matter.
    pub suspects: &'a [Suspect],
    /// Number of cylinders of the engine.
    pub cylinders: f64,
    /// The engine's banks.
    pub banks: &'a Banks,
}

impl Case<'_> {
    /// Place of the first cause.
    fn location(&self) -> Location {
        let first = self.suspects.first();
        first.map_or(Location::default(), |suspect| suspect.location)
    }
}

/// What has to be known to weigh a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// The prediction alone: the result does not depend on which cylinder of a bank is at fault.
    Bank,
    /// The prediction and the cylinder at fault.
    Cylinder,
}

/// Conditions that predictions take from the readings.
#[derive(Debug, Clone, Default)]
pub struct Conditions {
    /// Share of each region's recording that lies after a refuelling, 0 to 1; `None` where there was none.
    pub new_fuel: Option<ByRegion<f64>>,
    /// Whether the controller reads a high fuel pressure in the rail.
    pub reads_high_rail: bool,
    /// Share of a fuel canister's charge that was left; `None` where that is not known.
    pub canister_left: Option<[CanisterLeft; EMPTIES_S.len()]>,
    /// Whether any reading tells cylinders apart.
    pub tells_cylinders: bool,
}

/// A reading, with how well explanations fit it.
pub trait Evidence: fmt::Debug {
    /// Log-likelihood of the reading, given the pieces before it, up to a constant common to all explanations.
    fn log_likelihood(&self, case: &Case<'_>) -> f64;

    /// What has to be known to compute the log-likelihood.
    fn reach(&self) -> Reach {
        Reach::Bank
    }

    /// Adds the conditions that predictions take from this reading.
    fn inform(&self, _conditions: &mut Conditions) {}
}

/// A piece of evidence that was read.
#[derive(Debug)]
pub struct Piece {
    /// Probability, 0 to 1, that the piece arose in a way that no prediction covers.
    pub outlier_rate: f64,
    /// What was read, as values; `None` where it is not worth reporting.
    pub fact: Option<Fact>,
    /// How well explanations fit the piece.
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

/// The pieces that were read about a car, in the registry's order.
pub fn read(sources: &Sources<'_>) -> Vec<Piece> {
    REGISTRY.iter().filter_map(|piece| piece(sources)).collect()
}
