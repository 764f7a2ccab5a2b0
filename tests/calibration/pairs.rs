//! Cars with two faults at once, by the port alone and with a whole sheet.

use pintle::cause::Cause;

use crate::{
    confusion::share,
    verdict::{Verdict, leading},
};

/// The verdicts on one pair of causes.
pub struct Pair {
    pub name: String,
    pub by_port: Vec<Verdict>,
    pub with_sheet: Vec<Verdict>,
}

pub fn print(pairs: &[Pair]) {
    println!(
        "\ntwo faults, by the port alone; with a whole sheet: leading cause is either, odds of either, both in the first three, \
         the leading one is told with the other beside it; of the sheets with flows of whole banks, those that do not explain \
         the correction"
    );
    for pair in pairs {
        println!(
            "{:48} {}      {} {:.2}",
            pair.name,
            four(&pair.by_port),
            four(&pair.with_sheet),
            share(pair.with_sheet.iter().filter_map(left_over)),
        );
    }
}

fn four(verdicts: &[Verdict]) -> String {
    let either = verdicts
        .iter()
        .map(|v| v.truths.contains(&leading(&v.reported)));
    let sums = verdicts
        .iter()
        .map(|v| v.truths.iter().map(|t| v.reported[*t]).sum::<f64>());
    let both = verdicts.iter().map(|v| {
        let ahead = |truth: usize| {
            v.reported
                .iter()
                .filter(|p| **p > v.reported[truth])
                .count()
        };
        v.truths.iter().all(|truth| ahead(*truth) < 3)
    });
    format!(
        "{:.2} {:.2} {:.2} {:.2}",
        share(either),
        sums.sum::<f64>() / verdicts.len() as f64,
        share(both),
        share(verdicts.iter().map(is_told_together)),
    )
}

fn is_told_together(verdict: &Verdict) -> bool {
    let first = verdict.diagnosis.causes.first();
    let reported = first.and_then(|finding| Some([finding.cause, finding.second_cause?.cause]));
    reported.is_some_and(|reported| {
        verdict
            .truths
            .iter()
            .all(|truth| reported.contains(&Cause::ALL[*truth]))
    })
}

/// Whether the measured flows leave some of a bank's correction unexplained, where that can be told.
fn left_over(verdict: &Verdict) -> Option<bool> {
    let checks = verdict.diagnosis.flow_checks.iter();
    checks
        .filter_map(|check| Some(!check.agree?))
        .reduce(|a, b| a || b)
}
