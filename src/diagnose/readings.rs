//! Everything read about a car, ready for explanations to be weighed under.

use std::rc::Rc;

use crate::{series::summary::Summary, vehicle::Vehicle};

use super::{
    diagnosis::Diagnosis,
    engine::{self, Banks, Points, Setting},
    evidence::{
        self, Case, Conditions, Piece, Reach, Sources,
        bench::Bench,
        codes::Suspect,
        trims::{Steps, Trims},
    },
    forward::{Engine, OnTheBench, Place, Prediction},
};

/// Logarithm of the likelihood of each piece of evidence, given the pieces before it.
pub type LogLikelihoods = Vec<f64>;

/// How well a prediction fits, as far as it is the same whichever cylinder of a bank is meant.
#[derive(Debug, Clone)]
pub struct OfBank {
    trims: Steps,
    /// Pieces that depend on the cylinder are 0.
    pieces: LogLikelihoods,
}

/// What was read of one car, and how it may be built.
#[derive(Debug)]
pub struct Readings {
    pieces: Vec<Piece>,
    conditions: Conditions,
    trims: Option<Rc<Trims>>,
    has_bench: bool,
    settings: Vec<Setting>,
    points: Points,
    banks: Banks,
}

impl Readings {
    /// Takes the captures of one car, and what was read on its bench, together; `diagnosis` holds what they say by themselves.
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
        let trims = Trims::new(summaries).map(Rc::new);
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
            settings: engine::settings(summaries, vehicle, &on_bench),
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
    pub fn settings(&self) -> &[Setting] {
        &self.settings
    }

    /// The engine, built one way, as predictions need it.
    pub const fn engine<'a>(&'a self, setting: &'a Setting) -> Engine<'a> {
        Engine {
            setting,
            points: &self.points,
            banks: self.banks.count(),
            new_fuel: self.conditions.new_fuel,
            reads_high_rail: self.conditions.reads_high_rail,
            held: self.conditions.held,
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
        if self.has_bench {
            return prediction;
        }
        Prediction {
            bench: OnTheBench::default(),
            ..prediction
        }
    }

    /// How well a prediction fits, as far as it is the same whichever cylinder of a bank is meant.
    pub fn of_bank(&self, prediction: &Prediction, setting: &Setting) -> OfBank {
        let trims = self.trims.as_ref();
        let trims = trims.map_or(Steps::default(), |trims| trims.log_likelihood(prediction));
        let case = self.case(prediction, trims, &[], setting);
        let piece = |piece: &Piece| match piece.evidence.reach() {
            Reach::Bank => piece.evidence.log_likelihood(&case),
            Reach::Cylinder => 0.0,
        };
        OfBank {
            trims,
            pieces: self.pieces.iter().map(piece).collect(),
        }
    }

    /// How well a prediction fits with these suspects; misfires and bench are those of the first one's place.
    pub fn with_cylinder(
        &self,
        of_bank: &OfBank,
        suspects: &[Suspect],
        prediction: &Prediction,
        setting: &Setting,
    ) -> LogLikelihoods {
        let case = self.case(prediction, of_bank.trims, suspects, setting);
        let pieces = self.pieces.iter().zip(&of_bank.pieces);
        let piece = |(piece, of_bank): (&Piece, &f64)| match piece.evidence.reach() {
            Reach::Bank => *of_bank,
            Reach::Cylinder => piece.evidence.log_likelihood(&case),
        };
        pieces.map(piece).collect()
    }

    fn case<'a>(
        &'a self,
        prediction: &'a Prediction,
        trims: Steps,
        suspects: &'a [Suspect],
        setting: &Setting,
    ) -> Case<'a> {
        Case {
            prediction,
            trims,
            suspects,
            cylinders: setting.total(),
            banks: &self.banks,
        }
    }

    /// Numbers of all cylinders where counters, codes or the bench tell them apart, else none.
    pub fn cylinders_told_apart(&self, setting: &Setting) -> Vec<u8> {
        let total = setting.total().round() as u8;
        if self.conditions.tells_cylinders {
            (1..=total).collect()
        } else {
            Vec::new()
        }
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
