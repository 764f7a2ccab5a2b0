//! Every explanation: a cause at a place with a size, in an engine built one way, scored piece by piece.

use crate::cause::Cause;

use super::{
    candidate::{self, Candidate},
    car_evidence::CarEvidence,
    engine::EngineConfig,
    evidence::codes::Suspect,
    forward::{self, Prediction},
    hypothesis::Hypothesis,
    pair,
    prior::Priors,
};

/// Scores every explanation.
pub fn hypotheses(car: &CarEvidence, priors: &Priors) -> Vec<Hypothesis> {
    let mut all = Vec::new();
    for config in car.configs() {
        for cause in Cause::ALL {
            for group in candidate::by_bank(candidate::candidates(car, cause, config)) {
                single(car, cause, &group, config, priors, &mut all);
            }
        }
        pair::add(car, config, priors, &mut all);
    }
    mix_outliers(car, &mut all);
    all
}

/// Scores one cause at the places of one bank.
fn single(
    car: &CarEvidence,
    cause: Cause,
    candidates: &[Candidate],
    config: &EngineConfig,
    priors: &Priors,
    all: &mut Vec<Hypothesis>,
) {
    let engine = car.engine(config);
    let Some(any) = candidates.first() else {
        return;
    };
    let variants = forward::variants(cause);
    for (size, size_weight) in priors.sizes(cause) {
        let weight = priors.weight(cause) * pair::alone(cause, priors) * size_weight;
        if weight <= 0.0 {
            continue;
        }
        let share = size.unwrap_or(0.0) / 100.0;
        // what is unknown often makes no difference, such as a lean limit where nothing is that lean
        let mut distinct: Vec<(f64, Prediction)> = Vec::new();
        for variant in &variants {
            let prediction = variant.predict(any.location, share, engine);
            let prediction = car.lean_misfires(any.location, prediction);
            let prediction = car.without_unmeasured(prediction);
            match distinct.iter_mut().find(|(_, same)| *same == prediction) {
                Some((sum, _)) => *sum += weight * variant.weight,
                None => distinct.push((weight * variant.weight, prediction)),
            }
        }
        for (weight, prediction) in distinct {
            let bank_effects = car.bank_effects(&prediction, config);
            all.extend(candidates.iter().map(|candidate| {
                let location = candidate.location;
                let suspects = [Suspect { cause, location }];
                Hypothesis {
                    cause,
                    location,
                    bank_known: candidate.bank_known,
                    size,
                    second_cause: None,
                    log_weight: (weight * candidate.share).ln() + config.log_weight,
                    log_likelihood: car.cylinder_effects(
                        &bank_effects,
                        &suspects,
                        &prediction,
                        config,
                    ),
                }
            }));
        }
    }
}

/// Gives every piece of evidence a probability of having arisen in a way that no prediction covers: its likelihood is
/// then the average over all explanations. So no single piece can rule out a cause for good.
fn mix_outliers(car: &CarEvidence, hypotheses: &mut [Hypothesis]) {
    let heaviest = greatest(hypotheses.iter().map(|h| h.log_weight));
    let weights: Vec<f64> = hypotheses
        .iter()
        .map(|h| (h.log_weight - heaviest).exp())
        .collect();
    let all: f64 = weights.iter().sum();
    let mut likelihoods = vec![0.0; hypotheses.len()];
    for (index, piece) in car.pieces().iter().enumerate() {
        let of = |h: &Hypothesis| h.log_likelihood.get(index).copied().unwrap_or(0.0);
        let best = greatest(hypotheses.iter().map(of));
        if best == f64::NEG_INFINITY {
            continue;
        }
        let outlier_rate = piece.outlier_rate;
        // relative to the best, so that none of those that matter underflows
        for (likelihood, hypothesis) in likelihoods.iter_mut().zip(hypotheses.iter()) {
            *likelihood = (of(hypothesis) - best).exp();
        }
        let weighed = likelihoods.iter().zip(&weights).map(|(l, w)| l * w);
        let outliers = outlier_rate * weighed.sum::<f64>() / all;
        for (hypothesis, likelihood) in hypotheses.iter_mut().zip(&likelihoods) {
            if let Some(value) = hypothesis.log_likelihood.get_mut(index) {
                *value = best + ((1.0 - outlier_rate) * likelihood + outliers).ln();
            }
        }
    }
}

fn greatest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::NEG_INFINITY, f64::max)
}
