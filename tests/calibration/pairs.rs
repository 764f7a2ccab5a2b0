//! Cars with two faults at once.

use crate::{
    confusion::share,
    verdict::{Verdict, leading},
};

pub fn print(pairs: &[(String, Vec<Verdict>)]) {
    println!(
        "\ntwo faults: leading cause is either, odds of both together, both in the first three"
    );
    for (name, verdicts) in pairs {
        let either = verdicts
            .iter()
            .map(|v| v.truths.contains(&leading(&v.told)));
        let sums = verdicts
            .iter()
            .map(|v| v.truths.iter().map(|t| v.told[*t]).sum::<f64>());
        let both = verdicts.iter().map(|v| {
            let ahead = |truth: usize| v.told.iter().filter(|p| **p > v.told[truth]).count();
            v.truths.iter().all(|truth| ahead(*truth) < 3)
        });
        println!(
            "{name:50} {:.2} {:.2} {:.2}",
            share(either),
            sums.sum::<f64>() / verdicts.len() as f64,
            share(both)
        );
    }
}
