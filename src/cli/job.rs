//! `pintle job`: a folder per visit, from the first question to the page for the customer.

use std::path::PathBuf;

use clap::{Args, Subcommand};

mod list;
mod new;
mod show;
mod words;
mod work;

use super::failure::Failure;

/// Keep the records of a visit together.
///
/// A job holds complaint, captures, bench readings, findings, work and the customer's page. It is a folder of plain
/// files. `record`, `watch`, `codes`, `bench`, `diagnose` and `compare` file in it with `--job`. Nothing in it is
/// ever overwritten. A job is about one car: another one is refused.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle job new visit --label \"van 3\" --complaint \"shakes at idle\" \\\n\
        \x20     --mileage 148200km\n\
        \x20 pintle job choose visit \"injectors cleaned on the car\" --cost 120\n\
        \x20 pintle job done visit\n\
        \x20 pintle job show visit\n\
        \x20 pintle job list\n\
        \n\
        Between them, at the car: pintle record --job visit --for 15m, then pintle diagnose --job visit")]
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
