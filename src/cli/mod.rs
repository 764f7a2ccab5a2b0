//! The command line: which commands there are, and how their outcome becomes an exit code.

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

pub mod bench;
mod captured;
pub mod codes;
pub mod compare;
pub mod connect;
pub mod demo;
mod destination;
pub mod diagnose;
pub mod duration;
pub mod export;
pub mod failure;
mod files;
mod filing;
pub mod import;
pub mod inspect;
pub mod interrupt;
pub mod job;
mod one_car;
pub mod output;
mod overview;
pub mod ports;
pub mod probe;
pub mod record;
mod recorded;
pub mod replay;
pub mod report;
mod serve;
pub mod terminal;
pub mod watch;

use failure::Failure;

/// Tell a dirty fuel injector from everything that looks like one.
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100, arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

/// One variant a command in the order of work, each with its arguments and `run` in a file of its own.
#[derive(Debug, Subcommand)]
enum Command {
    Ports(ports::Arguments),
    Probe(probe::Arguments),
    Watch(watch::Arguments),
    Record(record::Arguments),
    Codes(codes::Arguments),
    Diagnose(diagnose::Arguments),
    Bench(bench::Arguments),
    Compare(compare::Arguments),
    Replay(replay::Arguments),
    Job(job::Arguments),
    Report(report::Arguments),
    Inspect(inspect::Arguments),
    Import(import::Arguments),
    Export(export::Arguments),
    Demo(demo::Arguments),
}

/// Reads the arguments, runs the command and reports how it went.
pub fn main() -> ExitCode {
    let parsed = overview::with_groups(Arguments::command())
        .try_get_matches()
        .and_then(|matches| Arguments::from_arg_matches(&matches));
    let arguments = match parsed {
        Ok(arguments) => arguments,
        Err(answer) => return output::answer_call(&answer),
    };
    match run(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

fn run(command: Command) -> Result<(), Failure> {
    match command {
        Command::Ports(arguments) => ports::run(&arguments),
        Command::Probe(arguments) => probe::run(&arguments),
        Command::Watch(arguments) => watch::run(&arguments),
        Command::Record(arguments) => record::run(&arguments),
        Command::Codes(arguments) => codes::run(&arguments),
        Command::Diagnose(arguments) => diagnose::run(&arguments),
        Command::Bench(arguments) => bench::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Replay(arguments) => replay::run(&arguments),
        Command::Job(arguments) => job::run(&arguments),
        Command::Report(arguments) => report::run(&arguments),
        Command::Inspect(arguments) => inspect::run(&arguments),
        Command::Import(arguments) => import::run(&arguments),
        Command::Export(arguments) => export::run(&arguments),
        Command::Demo(arguments) => demo::run(&arguments),
    }
}
