//! Every explanation that is weighed: a cause at a place with a size, in an engine built one way,
//! scored piece by piece.

use crate::cause::Cause;

use super::{
    engine::Setting,
    evidence::codes::Suspect,
    forward::{self, Prediction},
    hypothesis::Hypothesis,
    pair,
    prior::Priors,
    readings::Readings,
    seat::{self, Seated},
};

/// Scores every explanation.
pub fn hypotheses(readings: &Readings, priors: &Priors) -> Vec<Hypothesis> {
    let mut all = Vec::new();
    for setting in readings.settings() {
        for cause in Cause::ALL {
            for group in seat::by_bank(seat::seats(readings, cause, setting)) {
                single(readings, cause, &group, setting, priors, &mut all);
            }
        }
        pair::add(readings, setting, priors, &mut all);
    }
    mix_outliers(readings, &mut all);
    all
}

/// One cause at seats of one bank.
fn single(
    readings: &Readings,
    cause: Cause,
    seats: &[Seated],
    setting: &Setting,
    priors: &Priors,
    all: &mut Vec<Hypothesis>,
) {
    let engine = readings.engine(setting);
    let Some(any) = seats.first() else { return };
    let variants = forward::variants(cause);
    for (size, size_weight) in priors.sizes(cause) {
        let weight = priors.weight(cause) * pair::alone(cause, priors) * size_weight;
        if weight <= 0.0 {
            continue;
        }
        let share = size.unwrap_or(0.0) / 100.0;
        // what is unknown often makes no difference, as a lean limit where nothing is that lean
        let mut told_apart: Vec<(f64, Prediction)> = Vec::new();
        for variant in &variants {
            let prediction = variant.predict(any.place, share, engine);
            let prediction = readings.left_lean(any.place, prediction);
            let prediction = readings.as_far_as_read(prediction);
            match told_apart.iter_mut().find(|(_, same)| *same == prediction) {
                Some((sum, _)) => *sum += weight * variant.weight,
                None => told_apart.push((weight * variant.weight, prediction)),
            }
        }
        for (weight, prediction) in told_apart {
            let of_bank = readings.of_bank(&prediction, setting);
            all.extend(seats.iter().map(|seated| {
                let place = seated.place;
                let suspects = [Suspect { cause, place }];
                Hypothesis {
                    cause,
                    place,
                    bank_known: seated.bank_known,
                    size,
                    beside: None,
                    log_weight: (weight * seated.share).ln() + setting.log_weight,
                    log_likelihood: readings.with_cylinder(
                        &of_bank,
                        &suspects,
                        &prediction,
                        setting,
                    ),
                }
            }));
        }
    }
}

/// Lets every piece of evidence come about, now and then, in a way that no prediction knows: its
/// likelihood is then the average over all explanations. So no single piece can rule out a cause
/// for good.
fn mix_outliers(readings: &Readings, hypotheses: &mut [Hypothesis]) {
    let heaviest = greatest(hypotheses.iter().map(|h| h.log_weight));
    let weights: Vec<f64> = hypotheses
        .iter()
        .map(|h| (h.log_weight - heaviest).exp())
        .collect();
    let all: f64 = weights.iter().sum();
    let mut likelihoods = vec![0.0; hypotheses.len()];
    for (index, piece) in readings.pieces().iter().enumerate() {
        let of = |h: &Hypothesis| h.log_likelihood.get(index).copied().unwrap_or(0.0);
        let best = greatest(hypotheses.iter().map(of));
        if best == f64::NEG_INFINITY {
            continue;
        }
        let outlier_rate = piece.outlier_rate;
        // beside the best, so that none of those that matter is too small for a computer
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
