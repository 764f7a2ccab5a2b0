//! Top-1, top-3 and log loss.

use pintle::{cause::Cause, diagnose::Priors};

use crate::{confusion::share, verdict::Verdict};

/// Odds below this count as this in the log loss.
const LEAST: f64 = 1e-9;

pub fn print(verdicts: &[Verdict], priors: &Priors) {
    println!();
    println!(
        "{:44}{:>7}{:>7}{:>7}{:>9}",
        "", "cases", "top-1", "top-3", "log loss"
    );
    let all: Vec<&Verdict> = verdicts.iter().collect();
    let faults = |v: &&Verdict| v.truth != Cause::NoneFound && v.visible;
    let visible: Vec<&Verdict> = verdicts.iter().filter(faults).collect();
    line("all, odds as told", &all, |v| v.reported);
    line("visible faults, odds as told", &visible, |v| v.reported);
    let even = |v: &Verdict| v.with_even_priors(priors);
    line("all, every cause as common as drawn", &all, even);
    line("visible faults, as common as drawn", &visible, even);
    println!("\nby cause, odds as told; and with even priors");
    for cause in Cause::ALL {
        let own: Vec<&Verdict> = verdicts.iter().filter(|v| v.truth == cause).collect();
        let seen: Vec<&Verdict> = own.iter().copied().filter(|v| v.visible).collect();
        if own.is_empty() {
            continue;
        }
        line(cause.id(), &own, |v| v.reported);
        if cause != Cause::NoneFound {
            line("  visible", &seen, |v| v.reported);
            line("  visible, even priors", &seen, even);
        }
    }
}

/// Mean of the negative logarithm of the true cause's odds.
pub fn log_loss(verdicts: &[&Verdict], odds: impl Fn(&Verdict) -> [f64; 18]) -> f64 {
    let losses = verdicts
        .iter()
        .map(|v| -odds(v)[v.truth as usize].max(LEAST).ln());
    losses.sum::<f64>() / verdicts.len() as f64
}

fn line(name: &str, verdicts: &[&Verdict], odds: impl Fn(&Verdict) -> [f64; 18]) {
    let ranks: Vec<usize> = verdicts.iter().map(|v| v.rank(&odds(v))).collect();
    let loss = log_loss(verdicts, odds);
    println!(
        "{name:44}{:>7}{:>7.3}{:>7.3}{loss:>9.3}",
        verdicts.len(),
        share(ranks.iter().map(|rank| *rank == 0)),
        share(ranks.iter().map(|rank| *rank < 3)),
    );
}
