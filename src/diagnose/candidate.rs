//! Where a cause may sit: the engine, a bank or a cylinder, each with its share of the cause's weight.

use crate::{
    bank::Bank,
    cause::{Cause, Scope},
};

use super::{car_evidence::CarEvidence, engine::EngineConfig, forward::Location};

/// A place with its share of the cause's weight.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    /// Where the cause sits.
    pub location: Location,
    /// Whether data or the vehicle file identify the place's bank, rather than an assumption.
    pub bank_known: bool,
    /// Share of the cause's weight, 0 to 1.
    pub share: f64,
}

impl Candidate {
    /// This place once for each of these cylinders, which share its weight evenly.
    fn with_each(&self, numbers: &[u8]) -> Vec<Self> {
        let one = |number: &u8| Self {
            location: Location {
                cylinder: Some(*number),
                ..self.location
            },
            bank_known: self.bank_known,
            share: self.share / numbers.len() as f64,
        };
        numbers.iter().map(one).collect()
    }
}

/// Every place where a cause may sit.
pub fn candidates(car: &CarEvidence, cause: Cause, config: &EngineConfig) -> Vec<Candidate> {
    let engine = Candidate {
        location: Location::default(),
        bank_known: false,
        share: 1.0,
    };
    let apart = [Cause::IntakeLeakOneBank, Cause::ExhaustBlockedOneBank].contains(&cause);
    match cause.scope() {
        _ if apart && car.banks().count() < 2 => Vec::new(),
        Scope::Engine if cause == Cause::IntakeLeak => with_nearest(car, config, vec![engine]),
        Scope::Engine => vec![engine],
        Scope::Bank if cause == Cause::InjectorsRestrictedSeveral => dirty_candidates(car, config),
        Scope::Bank if cause == Cause::IntakeLeakOneBank => {
            with_nearest(car, config, bank_candidates(car, 1.0))
        }
        Scope::Bank => bank_candidates(car, 1.0),
        Scope::Cylinder => cylinder_candidates(car, config),
    }
}

/// Places of one bank, or of the whole engine, grouped together: fuel trims cannot tell them apart.
pub fn by_bank(candidates: Vec<Candidate>) -> Vec<Vec<Candidate>> {
    let mut groups: Vec<Vec<Candidate>> = Vec::new();
    for candidate in candidates {
        let same = |group: &&mut Vec<Candidate>| {
            let first = group.first();
            first.is_some_and(|first| first.location.bank == candidate.location.bank)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(candidate),
            None => groups.push(vec![candidate]),
        }
    }
    groups
}

/// One place for each bank; together they have `share`.
fn bank_candidates(car: &CarEvidence, share: f64) -> Vec<Candidate> {
    let banks = car.banks().all().map(|bank| Candidate {
        location: Location {
            bank: Some(bank),
            cylinder: None,
        },
        bank_known: true,
        share: share / car.banks().count() as f64,
    });
    banks.collect()
}

/// Places of several dirty injectors: as often on all banks as on one; any cylinder there may be the worst.
fn dirty_candidates(car: &CarEvidence, config: &EngineConfig) -> Vec<Candidate> {
    let mut candidates = bank_candidates(car, if car.banks().count() > 1 { 0.5 } else { 1.0 });
    if car.banks().count() > 1 {
        candidates.push(Candidate {
            location: Location::default(),
            bank_known: false,
            share: 0.5,
        });
    }
    with_nearest(car, config, candidates)
}

/// These places once for each cylinder there that may be affected most, where cylinders are told apart.
fn with_nearest(
    car: &CarEvidence,
    config: &EngineConfig,
    candidates: Vec<Candidate>,
) -> Vec<Candidate> {
    let numbers = car.distinguishable_cylinders(config);
    let nearest = |candidate: Candidate| {
        let meant = |number: &u8| match (candidate.location.bank, car.banks().of(*number)) {
            (Some(meant), Some(bank)) => meant == bank,
            _ => true,
        };
        let here: Vec<u8> = numbers.iter().copied().filter(meant).collect();
        if here.is_empty() {
            vec![candidate]
        } else {
            candidate.with_each(&here)
        }
    };
    candidates.into_iter().flat_map(nearest).collect()
}

/// Each cylinder, where counters or codes tell cylinders apart; else one unnamed cylinder for each bank.
fn cylinder_candidates(car: &CarEvidence, config: &EngineConfig) -> Vec<Candidate> {
    let numbers = car.distinguishable_cylinders(config);
    if numbers.is_empty() {
        let banks = car.banks().all().map(|bank| (None, bank, true));
        return share_out(banks.collect());
    }
    let mut candidates = Vec::new();
    for number in numbers {
        match car.banks().of(number) {
            Some(bank) => candidates.push((Some(number), bank, true)),
            None => {
                candidates.extend(car.banks().all().map(|bank| (Some(number), bank, false)));
            }
        }
    }
    share_out(candidates)
}

fn share_out(candidates: Vec<(Option<u8>, Bank, bool)>) -> Vec<Candidate> {
    // a cylinder whose bank is not known appears once for each bank
    let share = 1.0 / candidates.len().max(1) as f64;
    let candidate = candidates
        .into_iter()
        .map(|(cylinder, bank, bank_known)| Candidate {
            location: Location {
                bank: Some(bank),
                cylinder,
            },
            bank_known,
            share,
        });
    candidate.collect()
}
