//! `pintle job show`: where a job stands.

use std::fmt::Write;

use clap::Args;
use serde::Serialize;

use super::{Which, words};
use crate::{
    cli::{
        failure::Failure,
        files,
        filing::{self, Job},
        output,
    },
    identity,
    job::{STEPS, Side, Stage, Standing, Visit, Work},
    printable,
};

#[derive(Debug, Args)]
#[command(after_help = "Example, with a job made by `pintle job new visit`:\n\
        \x20 pintle job show visit")]
pub(super) struct Arguments {
    #[command(flatten)]
    which: Which,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    folder: String,
    visit: Visit,
    steps: Vec<StepEntry>,
    captures_before: usize,
    captures_after: usize,
    chosen: Vec<Work>,
    done: Vec<Work>,
    /// Files that a command was stopped over.
    unfinished: Vec<String>,
    /// What only somebody who knows the car can answer, and how.
    question: Option<String>,
    next: String,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct StepEntry {
    step: &'static str,
    done: bool,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let opened = Job::open(&arguments.which.folder, Some(Side::Before))?;
    let warnings = warnings(&opened)?;
    let question = question(&opened)?;
    let (job, visit) = (opened.folder, opened.visit);
    let standing = Standing::of(&job).map_err(filing::failure)?;
    let [captures_before, captures_after] = standing.captures;
    let steps = STEPS.into_iter().zip(standing.done);
    let document = Document {
        schema: "pintle.job/1",
        folder: job.path().display().to_string(),
        visit,
        steps: steps.map(|(step, done)| StepEntry { step, done }).collect(),
        captures_before,
        captures_after,
        chosen: job.works(Stage::Chosen).map_err(filing::failure)?,
        done: job.works(Stage::Done).map_err(filing::failure)?,
        unfinished: files::names(&job.unfinished()),
        question,
        next: words::next(standing.next, &job),
        warnings,
    };
    if arguments.json {
        output::print_json(&document)
    } else {
        output::print(&document.text())
    }
}

impl Document {
    fn text(&self) -> String {
        let visit = &self.visit;
        let label = visit
            .vehicle
            .label
            .as_deref()
            .unwrap_or("vehicle without a name");
        let complaint = visit.complaint.as_deref().unwrap_or("no complaint noted");
        let odometer = visit
            .odometer_km
            .map_or_else(String::new, |km| format!(", {km:.0} km"));
        let mut text = format!(
            "{}{odometer}, opened {}: {}\n\n",
            printable::line(label),
            words::day(visit.opened),
            printable::line(complaint)
        );
        // writing to a String cannot fail
        for (number, step) in (1..).zip(&self.steps) {
            let mark = if step.done { "x" } else { " " };
            let _ = writeln!(text, "  [{mark}] {number}. {}", step.step);
        }
        let _ = writeln!(
            text,
            "\ncaptures: {} before, {} after",
            self.captures_before, self.captures_after
        );
        for (word, works) in [("chosen", &self.chosen), ("done", &self.done)] {
            for work in works {
                let cost = work
                    .cost
                    .map_or_else(String::new, |cost| format!(", {cost:.2}"));
                let (day, what) = (words::day(work.at), printable::line(&work.what));
                let _ = writeln!(text, "{word} {day}: {what}{cost}");
            }
        }
        for path in &self.unfinished {
            let _ = writeln!(text, "{}", files::unfinished(path));
        }
        for warning in &self.warnings {
            let _ = writeln!(text, "\nWARNING: {}", printable::line(warning));
        }
        if let Some(question) = &self.question {
            let _ = writeln!(text, "\nquestion: {question}");
        }
        let _ = writeln!(text, "\nnext: {}", self.next);
        text
    }
}

/// What the latest comparison depends on, if anybody can tell.
fn question(job: &Job) -> Result<Option<String>, Failure> {
    let depends_on = job.compared()?.and_then(|compared| compared.depends_on);
    Ok(depends_on.filter(|what| what == "fuel").map(|_| {
        let folder = job.folder.path().display();
        format!(
            "was the car refuelled between the recordings before and after the work, with a different fuel? Answer \
             with `pintle compare --job {folder} --fuel same` or `--fuel changed`"
        )
    }))
}

/// What speaks against the job being of one car. The other commands refuse; this one is for finding out.
fn warnings(job: &Job) -> Result<Vec<String>, Failure> {
    let seen = job.sightings()?;
    let checked = identity::check(&seen, job.described().as_ref(), false);
    Ok(checked.unwrap_or_else(|other| vec![format!("{other}; {}.", other.next_step())]))
}
