//! The program's commands, run inside this process.

use clap::Parser;
use pintle::cli::{
    bench, compare, diagnose, export, failure::Failure, import, inspect, job, report,
};

/// The commands that need neither port nor terminal.
#[derive(Debug, Parser)]
enum Command {
    Bench(bench::Arguments),
    Compare(compare::Arguments),
    Diagnose(diagnose::Arguments),
    Export(export::Arguments),
    Import(import::Arguments),
    Inspect(inspect::Arguments),
    Job(job::Arguments),
    Report(report::Arguments),
}

/// Runs a command.
///
/// # Panics
/// When there is no such command or argument: then the attack is out of date.
pub fn run(words: &[String]) -> Result<(), Failure> {
    let words = std::iter::once("pintle").chain(words.iter().map(String::as_str));
    match Command::try_parse_from(words).unwrap_or_else(|error| panic!("{error}")) {
        Command::Bench(arguments) => bench::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Diagnose(arguments) => diagnose::run(&arguments),
        Command::Export(arguments) => export::run(&arguments),
        Command::Import(arguments) => import::run(&arguments),
        Command::Inspect(arguments) => inspect::run(&arguments),
        Command::Job(arguments) => job::run(&arguments),
        Command::Report(arguments) => report::run(&arguments),
    }
}
