//! Every explanation that is weighed: a cause at a place with a size, in an engine built one way, scored piece by piece.

use crate::{
    cause::{Cause, Seat},
    series::summary::Summary,
    vehicle::Vehicle,
};

use super::{
    engine::{self, BANKS, Points, Setting},
    forward::{self, Engine, Place, Prediction},
    likelihood::{
        codes::Codes,
        contrast::Contrast,
        misfires::Misfires,
        trims::{self, Trims},
    },
    prior::Priors,
};

/// Pieces of evidence: the steps of the corrections, misfires, corrections while nothing misfires, codes.
pub const PIECES: usize = trims::STEPS + 3;

/// One explanation, scored.
#[derive(Debug, Clone, Copy)]
pub struct Hypothesis {
    /// The cause.
    pub cause: Cause,
    /// Where it sits.
    pub place: Place,
    /// Whether the place's bank is told apart from others by knowledge, not only assumed.
    pub bank_known: bool,
    /// How bad, in the unit of the cause's severity quantity.
    pub size: Option<f64>,
    /// Logarithm of its weight before any evidence.
    pub log_weight: f64,
    /// Logarithm of the likelihood of each piece of evidence, given the pieces before it.
    pub log_likelihood: [f64; PIECES],
}

/// Everything read about a car, ready to be held against predictions.
#[derive(Debug)]
pub struct Readings {
    trims: Option<Trims>,
    misfires: Option<Misfires>,
    contrast: Option<Contrast>,
    codes: Option<Codes>,
    settings: Vec<Setting>,
    points: Points,
    banks: usize,
    vehicle: Vehicle,
}

/// A place with its share of the cause's weight.
struct Seated {
    place: Place,
    bank_known: bool,
    share: f64,
}

impl Readings {
    /// Takes the captures of one car together.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle) -> Self {
        let banks = engine::bank_count(summaries, vehicle);
        Self {
            trims: Trims::new(summaries),
            misfires: Misfires::new(summaries),
            contrast: Contrast::new(summaries),
            codes: Codes::new(summaries, banks),
            settings: engine::settings(summaries, vehicle),
            points: engine::points(summaries, vehicle),
            banks,
            vehicle: vehicle.clone(),
        }
    }

    /// Banks of the engine.
    pub const fn banks(&self) -> usize {
        self.banks
    }

    /// Scores every explanation.
    pub fn hypotheses(&self, priors: &Priors) -> Vec<Hypothesis> {
        let mut all = Vec::new();
        for setting in &self.settings {
            for cause in Cause::ALL {
                for seated in self.seats(cause, setting) {
                    self.score(cause, &seated, setting, priors, &mut all);
                }
            }
        }
        all
    }

    fn score(
        &self,
        cause: Cause,
        seated: &Seated,
        setting: &Setting,
        priors: &Priors,
        all: &mut Vec<Hypothesis>,
    ) {
        let engine = Engine {
            setting,
            points: &self.points,
            banks: self.banks,
        };
        let cause_weight = priors.weight(cause) * seated.share;
        for (size, size_weight) in priors.sizes(cause) {
            for (variant_weight, variant) in forward::variants(cause) {
                let weight = cause_weight * size_weight * variant_weight;
                if weight <= 0.0 {
                    continue;
                }
                let share = size.unwrap_or(0.0) / 100.0;
                let prediction = forward::predict(cause, seated.place, share, *variant, engine);
                all.push(Hypothesis {
                    cause,
                    place: seated.place,
                    bank_known: seated.bank_known,
                    size,
                    log_weight: weight.ln() + setting.log_weight,
                    log_likelihood: self.likelihood(cause, seated.place, &prediction, setting),
                });
            }
        }
    }

    fn likelihood(
        &self,
        cause: Cause,
        place: Place,
        prediction: &Prediction,
        setting: &Setting,
    ) -> [f64; PIECES] {
        let steps = self.trims.as_ref().map_or([0.0; trims::STEPS], |trims| {
            trims.log_likelihood(&prediction.total())
        });
        let misfires = self.misfires.as_ref().map_or(0.0, |misfires| {
            misfires.log_likelihood(place.cylinder, prediction)
        });
        let contrast = self.contrast.as_ref();
        let contrast = contrast.map_or(0.0, |contrast| contrast.log_likelihood(prediction));
        let codes = self.codes.as_ref().map_or(0.0, |codes| {
            codes.log_likelihood(cause, place, prediction, setting.total())
        });
        let [banks, regions, level] = steps;
        [banks, regions, level, misfires, contrast, codes]
    }

    fn seats(&self, cause: Cause, setting: &Setting) -> Vec<Seated> {
        let engine = Seated {
            place: Place::default(),
            bank_known: false,
            share: 1.0,
        };
        let apart = [Cause::IntakeLeakOneBank, Cause::ExhaustBlockedOneBank].contains(&cause);
        match cause.seat() {
            _ if apart && self.banks < 2 => Vec::new(),
            Seat::Engine => vec![engine],
            Seat::Bank => self.bank_seats(cause),
            Seat::Cylinder => self.cylinder_seats(setting),
        }
    }

    /// Every bank alike; several dirty injectors are as often on all banks as on one.
    fn bank_seats(&self, cause: Cause) -> Vec<Seated> {
        let everywhere = cause == Cause::InjectorsRestrictedSeveral && self.banks > 1;
        let one_bank = if everywhere { 0.5 } else { 1.0 };
        let banks = (0..self.banks).map(|bank| Seated {
            place: Place {
                bank: Some(bank),
                cylinder: None,
            },
            bank_known: true,
            share: one_bank / self.banks as f64,
        });
        let all = everywhere.then(|| Seated {
            place: Place::default(),
            bank_known: false,
            share: 0.5,
        });
        banks.chain(all).collect()
    }

    /// Each cylinder where counters or codes tell cylinders apart, else one unnamed cylinder a bank.
    fn cylinder_seats(&self, setting: &Setting) -> Vec<Seated> {
        let numbers = self.cylinders_told_apart(setting);
        if numbers.is_empty() {
            let banks = (0..self.banks).map(|bank| (None, bank, true));
            return share_out(banks.collect());
        }
        let mut seats = Vec::new();
        for number in numbers {
            match self.bank_of(number) {
                Some(bank) => seats.push((Some(number), bank, true)),
                None => seats.extend((0..self.banks).map(|bank| (Some(number), bank, false))),
            }
        }
        share_out(seats)
    }

    fn cylinders_told_apart(&self, setting: &Setting) -> Vec<u8> {
        let total = setting.total().round() as u8;
        let counters = self.misfires.iter().flat_map(Misfires::numbers);
        let codes = self.codes.iter().flat_map(Codes::cylinders);
        match counters.chain(codes).max() {
            Some(_) => (1..=total).collect(),
            None => Vec::new(),
        }
    }

    /// Bank (from 0) of a cylinder, where it is known.
    fn bank_of(&self, cylinder: u8) -> Option<usize> {
        if self.banks == 1 {
            return Some(0);
        }
        let bank = self.vehicle.bank_of(cylinder)?;
        Some(usize::from(bank) - 1).filter(|bank| *bank < BANKS)
    }

    /// Cylinders that a single one is looked for among, where none is named: the most probable count.
    pub fn likely_cylinders(&self) -> f64 {
        let most = self
            .settings
            .iter()
            .max_by(|a, b| a.log_weight.total_cmp(&b.log_weight));
        most.map_or(4.0, Setting::total)
    }
}

fn share_out(seats: Vec<(Option<u8>, usize, bool)>) -> Vec<Seated> {
    // a cylinder whose bank is open stands once for each bank
    let share = 1.0 / seats.len().max(1) as f64;
    let seated = seats
        .into_iter()
        .map(|(cylinder, bank, bank_known)| Seated {
            place: Place {
                bank: Some(bank),
                cylinder,
            },
            bank_known,
            share,
        });
    seated.collect()
}
