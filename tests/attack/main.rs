//! An attack on the whole program: hostile bytes, files, adapters, and kills at random moments.
//!
//! `cargo bench --bench attack -- minutes=10` (also `seed=1`, `jobs=2`, and `only=` a target's name, or `kills`). Inputs are
//! drawn from the seed and taken in by worker processes, each below a ceiling of memory and watched for hangs; meanwhile
//! the program itself is killed while it records, imports and exports. An input that breaks something is made small and
//! written to `tests/attack/inputs/`, where `cargo test` takes it in for ever. Ends with 1 if anything broke.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    clippy::unwrap_used
)]

#[cfg(unix)]
#[path = "../calibration/arguments.rs"]
mod arguments;
#[cfg(unix)]
mod command;
#[cfg(unix)]
mod dice;
#[cfg(unix)]
mod found;
#[cfg(unix)]
mod kills;
#[cfg(unix)]
mod lead;
#[cfg(unix)]
mod material;
#[cfg(unix)]
mod mutate;
#[cfg(unix)]
mod plan;
#[cfg(unix)]
mod said;
#[cfg(unix)]
mod slice;
#[cfg(unix)]
mod smaller;
#[cfg(unix)]
mod target;
#[cfg(unix)]
mod worker;

#[cfg(unix)]
fn main() -> std::process::ExitCode {
    match slice::Slice::of_arguments() {
        Some(slice) => worker::work(&slice),
        None => lead::attack(),
    }
}

#[cfg(not(unix))]
fn main() {
    println!("the attack needs a system with signals");
}
