//! Two causes at once: the common pairs, weighed as faults that have little to do with each other.

use crate::cause::Cause;

use super::{
    candidate::{self, Candidate},
    car_evidence::CarEvidence,
    engine::EngineConfig,
    evidence::codes::Suspect,
    forward::{self, Location, Prediction},
    hypothesis::Hypothesis,
    prior::Priors,
};

/// First cause of a pair: a fault of a cylinder or of the injectors.
const FIRST: [Cause; 6] = [
    Cause::InjectorRestricted,
    Cause::InjectorsRestrictedSeveral,
    Cause::InjectorDead,
    Cause::InjectorLeaking,
    Cause::IgnitionWeak,
    Cause::CompressionLow,
];
/// Second cause of a pair: an old fault of the whole engine that nobody has noticed.
const SECOND: [Cause; 4] = [
    Cause::IntakeLeak,
    Cause::AirMeterLow,
    Cause::FuelPressureLow,
    Cause::FuelBlend,
];
/// Second cause of a pair with weak ignition: dirty injectors (assumed to be as common as the others).
const DIRTY: Cause = Cause::InjectorsRestrictedSeveral;
/// Factor on the probability of two independent faults, 0 to 1: whoever finds the first often finds the second
/// (assumed). The odds of every pair are proportional to it.
const TOGETHER: f64 = 0.25;
/// Largest ratio of "with the second fault" to "without it" beside a first fault, whatever the priors say (assumed).
const MOST_BESIDE: f64 = 1.0;
/// Number of sizes tried of a pair's first cause (assumed; a finer grid costs time).
const FIRST_SIZES: usize = 6;
/// Number of sizes tried of a pair's second cause (assumed; a finer grid costs time).
const SECOND_SIZES: usize = 4;

/// A cause with one size, at the places of one bank.
struct Scored {
    cause: Cause,
    candidates: Vec<Candidate>,
    size: Option<f64>,
    /// Weight of the cause with this size, before its places share it.
    weight: f64,
    prediction: Prediction,
    /// Log-likelihoods of the cause alone, place by place.
    alone: Vec<f64>,
}

/// The engine as hypothesised, and the readings that pairs are scored against.
struct Pairing<'a> {
    car: &'a CarEvidence,
    config: &'a EngineConfig,
    priors: &'a Priors,
}

/// Share of a cause's weight with which it acts alone, 0 to 1: pairs take their weight from their first cause, so that
/// alone and in pairs together it keeps its prior.
pub fn alone(cause: Cause, priors: &Priors) -> f64 {
    let beside: f64 = seconds(cause).map(|second| beside(second, priors)).sum();
    1.0 / (1.0 + beside)
}

/// The causes that may accompany a first one.
fn seconds(first: Cause) -> impl Iterator<Item = Cause> {
    let dirty = (first == Cause::IgnitionWeak).then_some(DIRTY);
    let seconds = SECOND.into_iter().chain(dirty);
    seconds.filter(move |_| FIRST.contains(&first))
}

/// Ratio of "with this second cause" to "without it" for a first cause.
fn beside(second: Cause, priors: &Priors) -> f64 {
    let sound = priors.weight(Cause::NoneFound).max(f64::MIN_POSITIVE);
    (TOGETHER * priors.weight(second) / sound).min(MOST_BESIDE)
}

/// Adds the pairs for an engine built this way.
pub fn add(car: &CarEvidence, config: &EngineConfig, priors: &Priors, all: &mut Vec<Hypothesis>) {
    let pairing = Pairing {
        car,
        config,
        priors,
    };
    let whole = Candidate {
        location: Location::default(),
        bank_known: false,
        share: 1.0,
    };
    let second = |cause| pairing.scored(cause, &[whole], SECOND_SIZES);
    let everywhere: Vec<Scored> = SECOND.into_iter().flat_map(second).collect();
    let dirty: Vec<Scored> = second(DIRTY);
    for cause in FIRST {
        let coil = (cause == Cause::IgnitionWeak).then_some(&dirty);
        for group in candidate::by_bank(candidate::candidates(car, cause, config)) {
            for first in pairing.scored(cause, &group, FIRST_SIZES) {
                for second in everywhere.iter().chain(coil.into_iter().flatten()) {
                    pairing.join(&first, second, all);
                }
            }
        }
    }
}

impl Pairing<'_> {
    fn scored(&self, cause: Cause, candidates: &[Candidate], sizes: usize) -> Vec<Scored> {
        let engine = self.car.engine(self.config);
        let (Some(any), Some(usual)) = (
            candidates.first(),
            forward::variants(cause).into_iter().next(),
        ) else {
            return Vec::new();
        };
        let one = |(size, share): (Option<f64>, f64)| {
            let size_share = size.unwrap_or(0.0) / 100.0;
            let prediction = usual.predict(any.location, size_share, engine);
            let prediction = self.car.lean_misfires(any.location, prediction);
            let bank_effects = self.car.bank_effects(&prediction, self.config);
            let fit = |candidate: &Candidate| {
                let suspects = [suspect(cause, candidate)];
                let pieces =
                    self.car
                        .cylinder_effects(&bank_effects, &suspects, &prediction, self.config);
                pieces.iter().sum()
            };
            Scored {
                cause,
                size,
                weight: self.priors.weight(cause) * share,
                alone: candidates.iter().map(fit).collect(),
                candidates: candidates.to_vec(),
                prediction,
            }
        };
        let sizes = self.priors.few_sizes(cause, sizes).into_iter();
        sizes.map(one).collect()
    }

    /// Adds two causes together, place by place of the first.
    fn join(&self, first: &Scored, second: &Scored, all: &mut Vec<Hypothesis>) {
        let of_all_sizes = self.priors.weight(second.cause).max(f64::MIN_POSITIVE);
        let of_its_size = second.weight / of_all_sizes;
        let weight = first.weight
            * alone(first.cause, self.priors)
            * beside(second.cause, self.priors)
            * of_its_size;
        let (Some(other), Some(other_alone)) = (second.candidates.first(), second.alone.first())
        else {
            return;
        };
        if weight <= 0.0 {
            return;
        }
        let prediction = first.prediction.and(&second.prediction);
        let location = first
            .candidates
            .first()
            .map_or(Location::default(), |candidate| candidate.location);
        let prediction = self.car.lean_misfires(location, prediction);
        let bank_effects = self.car.bank_effects(&prediction, self.config);
        for (candidate, alone) in first.candidates.iter().zip(&first.alone) {
            let suspects = [
                suspect(first.cause, candidate),
                suspect(second.cause, other),
            ];
            // under the name of the cause that fits better alone
            let (main, named, other_suspect) = if alone >= other_alone {
                (first, candidate, suspects[1])
            } else {
                (second, other, suspects[0])
            };
            all.push(Hypothesis {
                cause: main.cause,
                location: named.location,
                bank_known: named.bank_known,
                size: main.size,
                second_cause: Some(other_suspect),
                log_weight: (weight * candidate.share).ln() + self.config.log_weight,
                log_likelihood: self.car.cylinder_effects(
                    &bank_effects,
                    &suspects,
                    &prediction,
                    self.config,
                ),
            });
        }
    }
}

const fn suspect(cause: Cause, candidate: &Candidate) -> Suspect {
    Suspect {
        cause,
        location: candidate.location,
    }
}
