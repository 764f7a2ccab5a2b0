//! Every explanation that is weighed: a cause at a place with a size, in an engine built one way,
//! scored piece by piece.

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

/// Pieces of evidence: the steps of the corrections, misfires, corrections while nothing misfires,
/// codes.
pub const PIECES: usize = trims::STEPS + 3;

/// Share of cases in which a piece of evidence has come about in a way that nothing here describes
/// (assumed).
const UNKNOWN_WAYS: f64 = 0.01;

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

impl Seated {
    /// The same seat with each of these cylinders, sharing its weight.
    fn with_each(&self, numbers: &[u8]) -> Vec<Self> {
        let one = |number: &u8| Self {
            place: Place {
                cylinder: Some(*number),
                ..self.place
            },
            bank_known: self.bank_known,
            share: self.share / numbers.len() as f64,
        };
        numbers.iter().map(one).collect()
    }
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
        soften(&mut all);
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
        let unknowns = forward::unknowns(cause);
        for (size, size_weight) in priors.sizes(cause) {
            for unknown in &unknowns {
                let weight = cause_weight * size_weight * unknown.weight;
                if weight <= 0.0 {
                    continue;
                }
                let share = size.unwrap_or(0.0) / 100.0;
                let prediction = forward::predict(cause, seated.place, share, *unknown, engine);
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
            misfires.log_likelihood(place, prediction, |cylinder| self.bank_of(cylinder))
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
            Seat::Bank if cause == Cause::InjectorsRestrictedSeveral => self.dirty_seats(setting),
            Seat::Bank => self.bank_seats(1.0),
            Seat::Cylinder => self.cylinder_seats(setting),
        }
    }

    /// Every bank alike, sharing `share`.
    fn bank_seats(&self, share: f64) -> Vec<Seated> {
        let banks = (0..self.banks).map(|bank| Seated {
            place: Place {
                bank: Some(bank),
                cylinder: None,
            },
            bank_known: true,
            share: share / self.banks as f64,
        });
        banks.collect()
    }

    /// Several dirty injectors are as often on all banks as on one; any cylinder there may be the
    /// worst.
    fn dirty_seats(&self, setting: &Setting) -> Vec<Seated> {
        let mut seats = self.bank_seats(if self.banks > 1 { 0.5 } else { 1.0 });
        if self.banks > 1 {
            seats.push(Seated {
                place: Place::default(),
                bank_known: false,
                share: 0.5,
            });
        }
        let numbers = self.cylinders_told_apart(setting);
        let worst = |seat: Seated| {
            let meant = |number: &u8| match (seat.place.bank, self.bank_of(*number)) {
                (Some(meant), Some(bank)) => meant == bank,
                _ => true,
            };
            let here: Vec<u8> = numbers.iter().copied().filter(meant).collect();
            match here.is_empty() {
                true => vec![seat],
                false => seat.with_each(&here),
            }
        };
        seats.into_iter().flat_map(worst).collect()
    }

    /// Each cylinder where counters or codes tell cylinders apart, else one unnamed cylinder a
    /// bank.
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

/// Lets every piece of evidence come about, now and then, in a way that no prediction knows: its
/// likelihood is then the average over all explanations. So no single piece can rule out a cause
/// for good.
fn soften(hypotheses: &mut [Hypothesis]) {
    let weights = log_sum(hypotheses.iter().map(|h| h.log_weight));
    for piece in 0..PIECES {
        let of = |h: &Hypothesis| h.log_likelihood.get(piece).copied().unwrap_or(0.0);
        let average = log_sum(hypotheses.iter().map(|h| h.log_weight + of(h))) - weights;
        for hypothesis in hypotheses.iter_mut() {
            if let Some(value) = hypothesis.log_likelihood.get_mut(piece) {
                let known = *value + (1.0 - UNKNOWN_WAYS).ln();
                *value = log_sum([known, average + UNKNOWN_WAYS.ln()].into_iter());
            }
        }
    }
}

/// ln Σ exp(x), safe for large negative x.
pub fn log_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + values.map(|value| (value - most).exp()).sum::<f64>().ln()
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
