//! What was said for what: a row for each true cause, in percent of its cases.

use pintle::cause::Cause;

use crate::verdict::{Verdict, leading};

/// Column heads, two letters each, in the order of [`Cause::ALL`].
const HEADS: [&str; 18] = [
    "no", "ir", "is", "id", "il", "lk", "l1", "m-", "m+", "p-", "p+", "ig", "co", "ex", "eb", "pu",
    "bl", "mr",
];

pub fn print(verdicts: &[Verdict]) {
    println!("\nleading cause (columns) for the true one (rows), percent; right place when right");
    println!(
        "{:32}{}  place",
        "",
        HEADS.map(|head| format!("{head:>4}")).concat()
    );
    for (cause, head) in Cause::ALL.into_iter().zip(HEADS) {
        let own: Vec<&Verdict> = verdicts.iter().filter(|v| v.truth == cause).collect();
        if own.is_empty() {
            continue;
        }
        let mut counts = [0; 18];
        own.iter().for_each(|v| counts[leading(&v.reported)] += 1);
        let cell = |count: usize| match 100.0 * count as f64 / own.len() as f64 {
            none if none <= 0.0 => format!("{:>4}", "."),
            percent => format!("{percent:>4.0}"),
        };
        let right = own
            .iter()
            .filter(|v| leading(&v.reported) == cause as usize);
        let places: Vec<bool> = right.filter_map(|v| v.right_place).collect();
        let place = match places.len() {
            0 => String::new(),
            n => format!("{:.2} of {n}", share(places.iter().copied())),
        };
        println!(
            "{:28} {head}{}  {place}",
            cause.id(),
            counts.map(cell).concat()
        );
    }
}

/// Share of true values.
pub fn share(values: impl Iterator<Item = bool>) -> f64 {
    let (all, met) = values.fold((0.0, 0.0), |(all, met), value| {
        (all + 1.0, met + f64::from(u8::from(value)))
    });
    if all > 0.0 { met / all } else { f64::NAN }
}
