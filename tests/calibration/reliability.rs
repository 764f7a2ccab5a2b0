//! Said so often, right so often.

use pintle::{cause::Cause, diagnose::Priors};

use crate::verdict::{Verdict, leading};

const STEPS: usize = 10;

/// Cases that were said about alike surely.
pub struct Step {
    pub said: f64,
    pub right: f64,
    /// Of all cases.
    pub share: f64,
}

pub struct Reliability {
    /// Mean distance of what was said from how often it was right.
    pub error: f64,
    /// What that distance comes to by chance alone on so many cases, were each as often right as was said, and its standard
    /// deviation.
    pub by_chance: [f64; 2],
    pub steps: Vec<Step>,
}

pub fn print(verdicts: &[Verdict], priors: &Priors) {
    let verdicts: Vec<&Verdict> = verdicts.iter().collect();
    let usual = weighed_as_usual(&verdicts, priors);
    let even = vec![1.0; verdicts.len()];
    println!("\nreliability of the leading cause's odds");
    table(
        "odds as told, causes as common as prior.toml says",
        &measured(&verdicts, &usual, |v| v.reported),
    );
    table(
        "odds as told, causes as drawn",
        &measured(&verdicts, &even, |v| v.reported),
    );
    table(
        "odds with even priors, causes as drawn",
        &measured(&verdicts, &even, |v| v.with_even_priors(priors)),
    );
}

/// Weights that make the drawn causes as common as `prior.toml` says.
pub fn weighed_as_usual(verdicts: &[&Verdict], priors: &Priors) -> Vec<f64> {
    let count = |cause: Cause| verdicts.iter().filter(|v| v.truth == cause).count() as f64;
    let counts = Cause::ALL.map(count);
    let weight = |v: &&Verdict| priors.weight(v.truth) / counts[v.truth as usize];
    verdicts.iter().map(weight).collect()
}

/// How often the leading cause is right, by how surely it was told.
pub fn measured(
    verdicts: &[&Verdict],
    weights: &[f64],
    odds: impl Fn(&Verdict) -> [f64; 18],
) -> Reliability {
    let mut steps = [(0.0, 0.0, 0.0); STEPS];
    let mut variances = [0.0; STEPS];
    for (verdict, weight) in verdicts.iter().zip(weights) {
        let odds = odds(verdict);
        let first = leading(&odds);
        let step = ((odds[first] * STEPS as f64) as usize).min(STEPS - 1);
        let right = f64::from(u8::from(first == verdict.truth as usize));
        let (all, said, met) = &mut steps[step];
        *all += weight;
        *said += weight * odds[first];
        *met += weight * right;
        variances[step] += (weight * (odds[first] - right)).powi(2);
    }
    let total: f64 = steps.iter().map(|(all, ..)| all).sum();
    let error: f64 = steps.iter().map(|(_, said, met)| (said - met).abs()).sum();
    // the mean of |x| of a normal x is √(2/π) of its deviation
    let mean = std::f64::consts::FRAC_2_PI.sqrt() * variances.map(f64::sqrt).iter().sum::<f64>();
    let variance = (1.0 - std::f64::consts::FRAC_2_PI) * variances.iter().sum::<f64>();
    let steps = steps.iter().filter(|(all, ..)| *all > 0.0);
    Reliability {
        error: error / total,
        by_chance: [mean, variance.sqrt()].map(|points| points / total),
        steps: steps
            .map(|(all, said, met)| Step {
                said: said / all,
                right: met / all,
                share: all / total,
            })
            .collect(),
    }
}

impl Reliability {
    /// The error beside what chance alone makes of it.
    pub fn points(&self) -> String {
        let [mean, deviation] = self.by_chance.map(|points| 100.0 * points);
        format!(
            "{:.1} (by chance {mean:.1} ± {deviation:.1})",
            100.0 * self.error
        )
    }
}

fn table(name: &str, measured: &Reliability) {
    println!("{name}: calibration error {}", measured.points());
    for step in &measured.steps {
        println!(
            "  said {:.2}  right {:.2}  ({:.1} % of the cases)",
            step.said,
            step.right,
            100.0 * step.share
        );
    }
}
