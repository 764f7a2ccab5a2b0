//! The command line: which commands there are, and how their outcome becomes an exit code.

use std::process::ExitCode;

use clap::{Parser, Subcommand};

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

/// One variant a command, each with its arguments and `run` in a file of its own.
#[derive(Debug, Subcommand)]
enum Command {
    Bench(bench::Arguments),
    Codes(codes::Arguments),
    Compare(compare::Arguments),
    Demo(demo::Arguments),
    Diagnose(diagnose::Arguments),
    Export(export::Arguments),
    Import(import::Arguments),
    Inspect(inspect::Arguments),
    Job(job::Arguments),
    Ports(ports::Arguments),
    Probe(probe::Arguments),
    Record(record::Arguments),
    Replay(replay::Arguments),
    Report(report::Arguments),
    Watch(watch::Arguments),
}

/// Reads the arguments, runs the command and reports how it went.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
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
        Command::Bench(arguments) => bench::run(&arguments),
        Command::Codes(arguments) => codes::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Demo(arguments) => demo::run(&arguments),
        Command::Diagnose(arguments) => diagnose::run(&arguments),
        Command::Export(arguments) => export::run(&arguments),
        Command::Import(arguments) => import::run(&arguments),
        Command::Inspect(arguments) => inspect::run(&arguments),
        Command::Job(arguments) => job::run(&arguments),
        Command::Ports(arguments) => ports::run(&arguments),
        Command::Probe(arguments) => probe::run(&arguments),
        Command::Record(arguments) => record::run(&arguments),
        Command::Replay(arguments) => replay::run(&arguments),
        Command::Report(arguments) => report::run(&arguments),
        Command::Watch(arguments) => watch::run(&arguments),
    }
}
