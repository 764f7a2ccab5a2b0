//! `pintle job list`: the jobs in a folder.

use std::{fs, io, path::PathBuf};

use clap::Args;
use serde::Serialize;

use super::words;
use crate::{
    cli::{failure::Failure, files, filing, output, terminal},
    io_words,
    job::{Folder, JobError, Standing},
};

#[derive(Debug, Args)]
#[command(after_help = "Example:\n\
        \x20 pintle job list")]
pub(super) struct Arguments {
    /// The folder that holds the jobs.
    #[arg(value_name = "FOLDER", default_value = ".")]
    folder: PathBuf,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    jobs: Vec<Entry>,
}

#[derive(Serialize)]
struct Entry {
    folder: String,
    opened: jiff::Timestamp,
    vehicle: Option<String>,
    complaint: Option<String>,
    /// Files that a command was stopped over.
    unfinished: Vec<String>,
    next: String,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let folder = &arguments.folder;
    let refused = |error: io::Error| {
        let problem = io_words::problem(&error);
        Failure::new(
            folder.display(),
            problem,
            "give a folder that contains jobs",
        )
    };
    let mut jobs = Vec::new();
    for entry in fs::read_dir(folder).map_err(refused)? {
        let path = entry.map_err(refused)?.path();
        let path = path.strip_prefix(".").map_or(path.clone(), PathBuf::from);
        match Folder::open(&path) {
            Ok((job, visit)) => {
                let next = Standing::of(&job).map_err(filing::failure)?.next;
                jobs.push(Entry {
                    folder: path.display().to_string(),
                    opened: visit.opened,
                    vehicle: visit.vehicle.label,
                    complaint: visit.complaint,
                    unfinished: files::names(&job.unfinished()),
                    next: words::next(next, &job),
                });
            }
            // a job that is damaged does not hide the others
            Err(error @ JobError::Format { .. }) => {
                output::remark(format_args!("{error}; {}", error.next_step()))
            }
            Err(_) => {}
        }
    }
    jobs.sort_by(|a, b| (a.opened, &a.folder).cmp(&(b.opened, &b.folder)));
    if arguments.json {
        return output::print_json(&Document {
            schema: "pintle.jobs/1",
            jobs,
        });
    }
    if jobs.is_empty() {
        output::remark("no jobs here; open one with `pintle job new`");
        return Ok(());
    }
    for path in jobs.iter().flat_map(|job| &job.unfinished) {
        output::remark(files::unfinished(path));
    }
    let mut table = terminal::table(&["folder", "opened", "vehicle", "complaint", "next"]);
    for job in jobs {
        table.add_row([
            job.folder,
            words::day(job.opened),
            job.vehicle.unwrap_or_default(),
            job.complaint.unwrap_or_default(),
            job.next,
        ]);
    }
    output::print(&terminal::text_of(&table))
}
