//! How often `compare` is wrong on unchanged cars, and how often it finds a change of known size.
//!
//! `cargo bench --bench comparison [-- pairs=1000 seed=1 only=real]`: the real logs of an unchanged car when they lie
//! beside the checkout, then drawn cars that wander between trips as that car does (`only=` is `real`, `unchanged` or `power`).
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    clippy::unwrap_used
)]

#[path = "../calibration/arguments.rs"]
mod arguments;
#[path = "../calibration/cars.rs"]
#[allow(dead_code)]
mod cars;
#[path = "../calibration/dice.rs"]
mod dice;
#[path = "../calibration/drivers.rs"]
#[allow(dead_code)]
mod drivers;
#[path = "../calibration/loggers.rs"]
mod loggers;
#[path = "../calibration/parallel.rs"]
mod parallel;
#[path = "../calibration/watch.rs"]
mod watch;

mod drawn;
mod power;
mod real;
mod tally;
mod unchanged;

struct Arguments {
    pairs: usize,
    seed: u64,
    only: Option<String>,
}

fn main() {
    let arguments = arguments();
    let wanted = |part: &str| arguments.only.as_deref().is_none_or(|only| only == part);
    if wanted("real") {
        real::print();
    }
    if wanted("unchanged") {
        unchanged::print(arguments.pairs, arguments.seed);
    }
    if wanted("power") {
        power::print(arguments.pairs / 5, arguments.seed);
    }
}

fn arguments() -> Arguments {
    let mut arguments = Arguments {
        pairs: 1000,
        seed: 1,
        only: None,
    };
    let expected = "pairs=, seed= or only=real, unchanged, power";
    arguments::take_each(expected, |name, value| {
        match (name, value) {
            ("pairs", number) => arguments.pairs = number.parse().unwrap(),
            ("seed", number) => arguments.seed = number.parse().unwrap(),
            ("only", "real" | "unchanged" | "power") => arguments.only = Some(value.to_owned()),
            _ => return false,
        }
        true
    });
    arguments
}
