//! `pintle compare`: what the work changed, against what the car does by itself.

use std::path::PathBuf;

use clap::Args;

use super::{captured::Pool, failure::Failure, filing::Job, one_car::SameCar, output, terminal};
use crate::{
    compare::{Comparison, Confounder, FuelAnswer, Limits, compare},
    identity::CarIdentity,
    job::{COMPARISON, Kind, Side},
    report::comparison,
};

/// Compare before and after: better, no change, worse, cannot tell.
///
/// Several captures on a side are several trips of the same car. Only driving conditions common to both sides are
/// compared. Captures of two cars are not compared, and the command fails.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle compare --before captures/van3-injector-3-down-30.capture.csv.gz \\\n\
        \x20     --after captures/van3-healthy.capture.csv.gz\n\
        \n\
        In a job:\n\
        \x20 pintle compare --job visit")]
pub struct Arguments {
    /// Captures from before the work, plain or compressed; with `--job`, those in the job.
    #[arg(long, required_unless_present = "job", num_args = 1.., value_name = "CAPTURE")]
    before: Vec<PathBuf>,
    /// Captures from after the work.
    #[arg(long, required_unless_present = "job", num_args = 1.., value_name = "CAPTURE")]
    after: Vec<PathBuf>,
    /// Compare the two sides of this job, and file the result there.
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["before", "after"])]
    job: Option<PathBuf>,
    /// Smallest change of fuel trim that matters, points.
    #[arg(long, value_name = "POINTS", default_value_t = Limits::default().trim_points,
        value_parser = trim_points)]
    trim_change: f64,
    /// Smallest change of the misfire rate that matters: this many times fewer or more.
    #[arg(long, value_name = "TIMES", default_value_t = Limits::default().misfire_factor,
        value_parser = misfire_factor)]
    misfire_change: f64,
    /// Were both sides driven on the same fuel, if you know: `same` or `changed`. A job remembers the answer.
    #[arg(long, value_name = "ANSWER")]
    fuel: Option<FuelAnswer>,
    #[command(flatten)]
    same_car: SameCar,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let job = arguments.job.as_deref();
    let job = job.map(|path| Job::open(path, None)).transpose()?;
    let [before, after] = match &job {
        Some(job) => [
            job.captures_of(Side::Before)?,
            job.captures_of(Side::After)?,
        ],
        None => [arguments.before.clone(), arguments.after.clone()],
    };
    let [before, after] = [Pool::read(&before)?, Pool::read(&after)?];
    let seen = [before.sightings(), after.sightings()].concat();
    let checked = arguments.same_car.check(&seen, None);
    let said = checked.as_deref().unwrap_or_default();
    let limits = Limits {
        trim_points: arguments.trim_change,
        misfire_factor: arguments.misfire_change,
    };
    let fuel = Job::fuel_of(arguments.fuel, job.as_ref())?;
    let found = of_one_car([&before, &after], said, arguments.same_car, &limits, fuel);
    let document = comparison::document(&found);
    if let Some(job) = job.filter(|_| checked.is_ok()) {
        job.file_json_as(Kind::Comparison, COMPARISON, &document)?;
    }
    if arguments.json {
        output::print_json(&document)?
    } else {
        output::print_finding(&comparison::render(&found, terminal::width()))?
    }
    // two cars are no comparison: nothing can be told, which a program hears too
    checked.map(drop)
}

/// Compares two sides that were looked at whether they are of one car, and what was `said` about that.
pub(super) fn of_one_car(
    sides: [&Pool; 2],
    said: &[String],
    same_car: SameCar,
    limits: &Limits,
    fuel: FuelAnswer,
) -> Comparison {
    let mut summaries = sides.map(Pool::summaries);
    let overruled = same_car.same_car && !said.is_empty();
    if overruled {
        // it is said with the finding, and forbids nothing any more
        let all = summaries.iter_mut().flatten();
        all.for_each(|summary| summary.facts.car = CarIdentity::default());
    }
    let [before, after] = &summaries;
    let mut found = compare(before, after, limits, fuel);
    if let Some(shared) = shared(sides) {
        let sentence = format!(
            "{shared}: this shows nothing. Give a recording from after the work as the other side."
        );
        output::warn(&sentence);
        found.forbid(Confounder::SameRecording, sentence);
    }
    let remarks = sides.iter().flat_map(|side| &side.remarks);
    // a doubt that nobody overruled is among the deceptions already
    let said = said.iter().filter(|_| overruled);
    found.warnings.extend(said.chain(remarks).cloned());
    found
}

/// A recording that stands on both sides.
fn shared([before, after]: [&Pool; 2]) -> Option<String> {
    let mut pairs = before
        .captures
        .iter()
        .flat_map(|one| after.captures.iter().map(move |other| (one, other)));
    let (one, other) = pairs.find(|(one, other)| one.is_copy_of(other))?;
    let [one, other] = [one, other].map(|captured| captured.path.display());
    Some(if one.to_string() == other.to_string() {
        format!("Same file on both sides ({one})")
    } else {
        format!("Same recording on both sides ({one} and {other})")
    })
}

fn trim_points(text: &str) -> Result<f64, String> {
    within(text, 0.5..=30.0, "points from 0.5 to 30")
}

fn misfire_factor(text: &str) -> Result<f64, String> {
    within(text, 1.2..=100.0, "a factor from 1.2 to 100")
}

fn within(text: &str, range: std::ops::RangeInclusive<f64>, expected: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| format!("expected {expected}"))
}
