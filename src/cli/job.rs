//! `pintle job`: a folder per visit, from the first question to the page for the customer.

use std::path::PathBuf;

use clap::{Args, Subcommand};

mod list;
mod new;
mod show;
mod words;
mod work;

use super::failure::Failure;

/// Keep a visit together: complaint, captures, bench readings, findings, work, page.
///
/// A job is a folder of plain files. `record`, `watch`, `codes`, `bench`, `diagnose` and `compare` file in it with
/// `--job`. Nothing in it is ever overwritten. A job is about one car: another one is refused.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle job new --label \"van 3\" --complaint \"shakes at idle\" --mileage 148200km\n  \
    pintle record --job job-2026-11-25-van-3 --for 15m\n  pintle diagnose --job job-2026-11-25-van-3\n  \
    pintle job choose job-2026-11-25-van-3 \"injectors cleaned on the car\" --cost 120\n  \
    pintle job done job-2026-11-25-van-3\n  pintle job show job-2026-11-25-van-3"
)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    New(new::Arguments),
    /// List the jobs in a folder, each with its next step.
    List(list::Arguments),
    /// Tell where a job stands in its six steps, and what comes next.
    Show(show::Arguments),
    /// Note the treatment that was chosen.
    Choose(work::Choice),
    /// Note that the work was done: what is recorded from now on is filed as `after`.
    Done(work::Completion),
}

/// Which job.
#[derive(Debug, Args)]
struct Which {
    /// The job's folder.
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    match &arguments.command {
        Command::New(arguments) => new::run(arguments),
        Command::List(arguments) => list::run(arguments),
        Command::Show(arguments) => show::run(arguments),
        Command::Choose(arguments) => work::choose(arguments),
        Command::Done(arguments) => work::done(arguments),
    }
}
