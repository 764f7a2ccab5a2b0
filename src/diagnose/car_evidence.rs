//! Everything read about a car, ready to be weighed under explanations.

use std::rc::Rc;

use crate::{series::summary::Summary, vehicle::Vehicle};

use super::{
    diagnosis::Diagnosis,
    engine::{self, Banks, EngineConfig, Points},
    evidence::{
        self, Case, Conditions, Piece, Reach, Sources,
        bench::Bench,
        codes::Suspect,
        trims::{Steps, TrimEvidence},
    },
    forward::{EngineModel, Location, OnTheBench, Prediction},
};

/// Logarithm of the likelihood of each piece of evidence, given the pieces before it.
pub type LogLikelihoods = Vec<f64>;

/// Log-likelihoods of a prediction as far as they do not depend on which cylinder of a bank is meant.
#[derive(Debug, Clone)]
pub struct BankEffects {
    trims: Steps,
    /// Log-likelihood by piece; 0 for pieces that depend on the cylinder.
    pieces: LogLikelihoods,
}

/// What was read of one car, and how it may be built.
#[derive(Debug)]
pub struct CarEvidence {
    pieces: Vec<Piece>,
    conditions: Conditions,
    trims: Option<Rc<TrimEvidence>>,
    has_bench: bool,
    configs: Vec<EngineConfig>,
    points: Points,
    banks: Banks,
}

impl CarEvidence {
    /// Combines the captures of one car with its bench readings; `diagnosis` holds what they say by themselves.
    pub fn new(
        summaries: &[Summary],
        vehicle: &Vehicle,
        diagnosis: &Diagnosis,
        bench: Option<Bench>,
    ) -> Self {
        let bench = bench.filter(Bench::tells_something).map(Rc::new);
        let mut on_bench: Vec<u8> = bench.iter().flat_map(|bench| bench.cylinders()).collect();
        on_bench.sort_unstable();
        on_bench.dedup();
        let points = engine::points(summaries, vehicle);
        let banks = Banks::new(summaries, vehicle);
        let trims = TrimEvidence::new(summaries).map(Rc::new);
        let has_bench = bench.is_some();
        let pieces = evidence::read(&Sources {
            summaries,
            vehicle,
            banks: &banks,
            points: &points,
            trims: &diagnosis.trims,
            misfires: &diagnosis.misfires,
            codes: &diagnosis.codes,
            all_trims: trims.clone(),
            bench,
            found: diagnosis.bench.as_ref(),
        });
        let mut conditions = Conditions::default();
        for piece in &pieces {
            piece.evidence.inform(&mut conditions);
        }
        Self {
            configs: engine::configs(summaries, vehicle, &on_bench),
            pieces,
            conditions,
            trims,
            has_bench,
            points,
            banks,
        }
    }

    /// The pieces of evidence that were read, in the order of [`LogLikelihoods`].
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Banks of the engine.
    pub const fn banks(&self) -> &Banks {
        &self.banks
    }

    /// Every way the engine may be built.
    pub fn configs(&self) -> &[EngineConfig] {
        &self.configs
    }

    /// The engine, built one way, in the form that predictions need.
    pub const fn engine<'a>(&'a self, config: &'a EngineConfig) -> EngineModel<'a> {
        EngineModel {
            config,
            points: &self.points,
            banks: self.banks.count(),
            new_fuel: self.conditions.new_fuel,
            reads_high_rail: self.conditions.reads_high_rail,
            canister_left: self.conditions.canister_left,
        }
    }

    /// The prediction plus the misfires of mixtures that saturated fuel trims leave lean.
    pub fn lean_misfires(&self, location: Location, prediction: Prediction) -> Prediction {
        match &self.trims {
            Some(trims) => prediction.lean_misfires(location, &trims.lacking(&prediction.total())),
            None => prediction,
        }
    }

    /// The prediction without quantities that nobody has measured.
    pub fn without_unmeasured(&self, prediction: Prediction) -> Prediction {
        if self.has_bench {
            return prediction;
        }
        Prediction {
            bench: OnTheBench::default(),
            ..prediction
        }
    }

    /// Scores a prediction as far as the result does not depend on which cylinder of a bank is meant.
    pub fn bank_effects(&self, prediction: &Prediction, config: &EngineConfig) -> BankEffects {
        let trims = self.trims.as_ref();
        let trims = trims.map_or(Steps::default(), |trims| trims.log_likelihood(prediction));
        let case = self.case(prediction, trims, &[], config);
        let piece = |piece: &Piece| match piece.evidence.reach() {
            Reach::Bank => piece.evidence.log_likelihood(&case),
            Reach::Cylinder => 0.0,
        };
        BankEffects {
            trims,
            pieces: self.pieces.iter().map(piece).collect(),
        }
    }

    /// Log-likelihoods of a prediction with these suspects; misfires and bench readings are those of the first
    /// suspect's place.
    pub fn cylinder_effects(
        &self,
        bank_effects: &BankEffects,
        suspects: &[Suspect],
        prediction: &Prediction,
        config: &EngineConfig,
    ) -> LogLikelihoods {
        let case = self.case(prediction, bank_effects.trims, suspects, config);
        let pieces = self.pieces.iter().zip(&bank_effects.pieces);
        let piece = |(piece, bank_effects): (&Piece, &f64)| match piece.evidence.reach() {
            Reach::Bank => *bank_effects,
            Reach::Cylinder => piece.evidence.log_likelihood(&case),
        };
        pieces.map(piece).collect()
    }

    fn case<'a>(
        &'a self,
        prediction: &'a Prediction,
        trims: Steps,
        suspects: &'a [Suspect],
        config: &EngineConfig,
    ) -> Case<'a> {
        Case {
            prediction,
            trims,
            suspects,
            cylinders: config.total(),
            banks: &self.banks,
        }
    }

    /// Numbers of all cylinders where counters, codes or bench readings tell cylinders apart; else none.
    pub fn distinguishable_cylinders(&self, config: &EngineConfig) -> Vec<u8> {
        let total = config.total().round() as u8;
        if self.conditions.tells_cylinders {
            (1..=total).collect()
        } else {
            Vec::new()
        }
    }

    /// Most probable number of cylinders, among which an unnamed cylinder is sought.
    pub fn likely_cylinders(&self) -> f64 {
        let most = self
            .configs
            .iter()
            .max_by(|a, b| a.log_weight.total_cmp(&b.log_weight));
        most.map_or(4.0, EngineConfig::total)
    }
}
