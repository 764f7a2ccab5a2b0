//! A worker: takes in the inputs of a slice one by one, below a ceiling of memory, watched for hangs.

mod attempt;
mod spoken;
pub mod watch;

use std::{
    collections::HashSet,
    fs,
    fs::File,
    os::unix::fs::FileExt,
    process::ExitCode,
    time::{Duration, Instant},
};

use rustix::process::{Resource, Rlimit, nice, setrlimit};

use super::{
    dice,
    found::place_of,
    slice::{Progress, Slice},
    smaller::smaller,
};
use attempt::Attempts;

/// Most memory that a worker may take, its program and stacks included: bytes of address space.
const MEMORY: u64 = 1 << 30;
/// A slice that turns out slower than planned is left at this time; other numbers are as good.
const LONGEST: Duration = Duration::from_secs(6);
/// Makes way for whatever else runs, the kills above all.
const NICE: i32 = 10;

/// Works through a slice.
pub fn work(slice: &Slice) -> ExitCode {
    let ceiling = Rlimit {
        current: Some(MEMORY),
        maximum: Some(MEMORY),
    };
    setrlimit(Resource::As, ceiling).unwrap();
    nice(NICE).unwrap();
    let target = slice.target();
    let attempts = Attempts::new(slice);
    watch::begin(slice.hung());
    let progress = File::create(slice.progress()).unwrap();
    let tell = |number| {
        let told = Progress {
            number,
            executions: watch::executions(),
        };
        progress.write_all_at(&told.to_bytes(), 0).unwrap();
    };
    let mut kept = HashSet::new();
    let until = Instant::now() + LONGEST;
    for number in slice.from..slice.until {
        tell(number);
        if Instant::now() > until {
            return ExitCode::SUCCESS;
        }
        let input = (target.draw)(
            attempts.material(),
            &mut dice::of_input(slice.seed, target.name, number),
        );
        let Err(words) = attempts.take(&input) else {
            continue;
        };
        let place = place_of(&words).to_owned();
        let breaks_there = |smaller: &[u8]| {
            attempts
                .take(smaller)
                .is_err_and(|words| place_of(&words) == place)
        };
        if slice.smaller {
            let small = smaller(&input, breaks_there);
            keep(slice, number, &small, &words);
        } else if kept.insert(place.clone()) {
            keep(slice, number, &input, &words);
        }
    }
    tell(slice.until);
    ExitCode::SUCCESS
}

/// Keeps an input that broke something, and what it broke.
fn keep(slice: &Slice, number: u64, input: &[u8], words: &str) {
    let name = |ending| slice.broken().join(format!("{number}.{ending}"));
    fs::write(name("input"), input).unwrap();
    fs::write(name("words"), words).unwrap();
}
