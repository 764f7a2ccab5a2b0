//! Said so often, right so often.

use pintle::{cause::Cause, diagnose::Priors};

use crate::verdict::{Verdict, leading};

const STEPS: usize = 10;

pub fn print(verdicts: &[Verdict], priors: &Priors) {
    let count = |cause: Cause| verdicts.iter().filter(|v| v.truth == cause).count() as f64;
    let weights: Vec<f64> = verdicts
        .iter()
        .map(|v| priors.weight(v.truth) / count(v.truth))
        .collect();
    let even = vec![1.0; verdicts.len()];
    println!("\nreliability of the leading cause's odds");
    table(
        "odds as told, causes as common as prior.toml says",
        verdicts,
        &weights,
        |v| v.told,
    );
    table("odds as told, causes as drawn", verdicts, &even, |v| v.told);
    table(
        "odds with even priors, causes as drawn",
        verdicts,
        &even,
        |v| v.with_even_priors(priors),
    );
}

fn table(name: &str, verdicts: &[Verdict], weights: &[f64], odds: impl Fn(&Verdict) -> [f64; 18]) {
    let mut steps = [(0.0, 0.0, 0.0); STEPS];
    for (verdict, weight) in verdicts.iter().zip(weights) {
        let odds = odds(verdict);
        let first = leading(&odds);
        let step = ((odds[first] * STEPS as f64) as usize).min(STEPS - 1);
        let right = f64::from(u8::from(first == verdict.truth as usize));
        let (all, said, met) = &mut steps[step];
        *all += weight;
        *said += weight * odds[first];
        *met += weight * right;
    }
    let total: f64 = steps.iter().map(|(all, ..)| all).sum();
    let error: f64 = steps.iter().map(|(_, said, met)| (said - met).abs()).sum();
    println!(
        "{name}: calibration error {:.1} points",
        100.0 * error / total
    );
    for (all, said, met) in steps.iter().filter(|(all, ..)| *all > 0.0) {
        println!(
            "  said {:.2}  right {:.2}  ({:.1} % of the cases)",
            said / all,
            met / all,
            100.0 * all / total
        );
    }
}
