//! How often the interval told for a cause's size holds the truth, and from which size on a cause is found.

use pintle::cause::Cause;

use crate::{
    confusion::share,
    faults,
    verdict::{Verdict, leading},
};

/// Steps of equal ratio from the smallest to the largest size drawn.
const STEPS: usize = 6;

pub fn print(verdicts: &[Verdict]) {
    println!("\nsize: 90 % interval holds the truth (all; leading), top-1 by size, found from");
    for cause in Cause::ALL {
        let own: Vec<&Verdict> = verdicts.iter().filter(|v| v.truth == cause).collect();
        let (Some([low, high]), false) = (faults::sizes(cause), own.is_empty()) else {
            continue;
        };
        let led: Vec<&Verdict> = own.iter().copied().filter(|v| is_led(v)).collect();
        let held = |some: &[&Verdict]| share(some.iter().filter_map(|v| v.interval));
        let edge = |step: usize| low * (high / low).powf(step as f64 / STEPS as f64);
        let found: Vec<f64> = (0..STEPS)
            .map(|step| {
                let inside = own.iter().filter(|v| {
                    let size = v.severity.unwrap_or(0.0);
                    (edge(step)..=edge(step + 1)).contains(&size)
                });
                share(inside.map(|v| is_led(v)))
            })
            .collect();
        let lasting = |step: &usize| found[*step..].iter().all(|share| *share >= 0.5);
        let from = (0..STEPS).find(lasting).map(edge);
        let steps: Vec<String> = (0..STEPS)
            .map(|step| format!("{}+ {:.2}", shown(edge(step)), found[step]))
            .collect();
        println!(
            "{:28} {:.2} {:.2}  {:<58} {}",
            cause.id(),
            held(&own),
            held(&led),
            steps.join(", "),
            from.map_or("not within these".to_owned(), |size| {
                format!(
                    "{} {}",
                    shown(size),
                    cause.severity_quantity().unwrap_or("")
                )
            })
        );
    }
}

fn is_led(verdict: &Verdict) -> bool {
    leading(&verdict.told) == verdict.truth as usize
}

/// Two digits that matter.
fn shown(size: f64) -> String {
    let decimals = (1.0 - size.log10().floor()).max(0.0) as usize;
    format!("{size:.decimals$}")
}
