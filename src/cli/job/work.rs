//! `pintle job choose` and `pintle job done`: the treatment decided, the work carried out.

use clap::Args;

use super::Which;
use crate::{
    cli::{failure::Failure, filing, output},
    job::{Folder, Stage, Work},
    vehicle::MOST_MONEY,
};

#[derive(Debug, Args)]
#[command(after_help = "Example, with a job made by `pintle job new visit`:\n\
        \x20 pintle job choose visit \"injectors cleaned on the car\" --cost 120")]
pub(super) struct Choice {
    #[command(flatten)]
    which: Which,
    /// The treatment, in words for the customer.
    what: String,
    /// What it will cost, in your money.
    #[arg(long, value_name = "MONEY", value_parser = money, allow_negative_numbers = true)]
    cost: Option<f64>,
}

#[derive(Debug, Args)]
#[command(after_help = "Example, with a job made by `pintle job new visit`:\n\
        \x20 pintle job done visit \"ignition coil of cylinder 2 replaced\" --cost 95\n\
        \n\
        Once the work was chosen with `pintle job choose`:\n\
        \x20 pintle job done visit")]
pub(super) struct Completion {
    #[command(flatten)]
    which: Which,
    /// What was done, in words for the customer; without it, the treatment chosen last.
    what: Option<String>,
    /// What it cost, in your money.
    #[arg(long, value_name = "MONEY", value_parser = money, allow_negative_numbers = true)]
    cost: Option<f64>,
}

fn money(text: &str) -> Result<f64, &'static str> {
    let cost = text.parse().ok();
    cost.filter(|cost| (0.0..=MOST_MONEY).contains(cost))
        .ok_or("expected a number from 0 to 1000000000, with a point for decimals")
}

/// Notes a choice.
pub(super) fn choose(choice: &Choice) -> Result<(), Failure> {
    let (job, _) = Folder::open(&choice.which.folder).map_err(filing::failure)?;
    note(&job, Stage::Chosen, choice.what.clone(), choice.cost)
}

/// Notes that work was done.
pub(super) fn done(completion: &Completion) -> Result<(), Failure> {
    let (job, _) = Folder::open(&completion.which.folder).map_err(filing::failure)?;
    let chosen = job.works(Stage::Chosen).map_err(filing::failure)?.pop();
    let (what, planned) = match (&completion.what, chosen) {
        (Some(what), _) => (what.clone(), None),
        (None, Some(chosen)) => (chosen.what, chosen.cost),
        (None, None) => {
            return Err(Failure::new(
                job.path().display(),
                "no work was chosen yet",
                "say what was done: pintle job done FOLDER WHAT",
            ));
        }
    };
    note(&job, Stage::Done, what, completion.cost.or(planned))
}

fn note(job: &Folder, stage: Stage, what: String, cost: Option<f64>) -> Result<(), Failure> {
    let at = jiff::Timestamp::now();
    let path = job
        .note(stage, &Work { at, what, cost })
        .map_err(filing::failure)?;
    output::remark(format_args!("{}: noted", path.display()));
    Ok(())
}
