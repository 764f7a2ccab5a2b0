//! `pintle export`: decoded data out of a capture.

use std::{
    io::{self, BufWriter, Write},
    path::{Path, PathBuf},
};

use clap::{Args, ValueEnum};

use super::{
    duration::{self, Span},
    failure::Failure,
    files, output,
};
use crate::{
    durable::NewFile,
    export::{self, ExportError, Exported},
};

/// Write the decoded readings of a capture as CSV.
///
/// Text that a spreadsheet would run as a formula (it begins with = + - @, a tab or a line end) gets an apostrophe in
/// front; numbers stay as they are. In the wide shape, gaps of more than 10 s without a reading get no rows; their
/// number and length are reported.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle export captures/van3-healthy.capture.csv.gz > van3-long.csv\n\
        \x20 pintle export captures/van3-healthy.capture.csv.gz --shape wide --every 250ms \\\n\
        \x20     --out van3-wide.csv")]
pub struct Arguments {
    /// The capture, plain or compressed.
    capture: PathBuf,
    /// `long`: a row for each reading. `wide`: a row for each time step, a column for each quantity.
    #[arg(long, value_enum, default_value_t = Shape::Long)]
    shape: Shape,
    /// Time step of the wide shape: 250ms, 2s, 1m.
    #[arg(
        long,
        value_name = "STEP",
        default_value = "1s",
        allow_hyphen_values = true
    )]
    every: Span,
    /// Name of the new file; without it, standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Shape {
    Long,
    Wide,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let exported = match &arguments.out {
        Some(out) => to_file(arguments, out)?,
        None => to_standard_output(arguments)?,
    };
    let (capture, gaps) = (&arguments.capture, exported.gaps);
    if gaps.count > 0 {
        output::remark(format_args!(
            "{}: left out {} without readings, {} in all",
            capture.display(),
            match gaps.count {
                1 => "1 gap".to_owned(),
                count => format!("{count} gaps"),
            },
            duration::words(gaps.length_us as f64 / 1e6)
        ));
    }
    files::remark_damage(capture, &exported.damage);
    Ok(())
}

fn to_file(arguments: &Arguments, out: &Path) -> Result<Exported, Failure> {
    // Opened before anything is made, so that a refusal costs nothing; the capture is looked at first of all.
    crate::capture::Reader::open(&arguments.capture)
        .map_err(|error| failure(&error.into(), &arguments.capture, out))?;
    let new = NewFile::create(out).map_err(|error| files::not_written(out, &error))?;
    let mut file = BufWriter::new(new.file());
    let exported = export(arguments, &mut file)
        .and_then(|exported| Ok(file.flush().map(|()| exported)?))
        .map_err(|error| failure(&error, &arguments.capture, out))?;
    drop(file);
    new.finish()
        .map_err(|error| files::not_written(out, &error))?;
    files::remark_unfinished_beside(out);
    Ok(exported)
}

fn to_standard_output(arguments: &Arguments) -> Result<Exported, Failure> {
    let mut outcome = Ok(Exported::default());
    output::write(|out| {
        outcome = export(arguments, out);
        match &mut outcome {
            Err(ExportError::Output(error)) => {
                Err(std::mem::replace(error, io::ErrorKind::Other.into()))
            }
            _ => Ok(()),
        }
    })?;
    outcome.map_err(|error| failure(&error, &arguments.capture, Path::new("standard output")))
}

fn export(arguments: &Arguments, out: &mut dyn Write) -> Result<Exported, ExportError> {
    match arguments.shape {
        Shape::Long => export::long(&arguments.capture, out),
        Shape::Wide => export::wide(&arguments.capture, arguments.every.as_us(), out),
    }
}

fn failure(error: &ExportError, capture: &Path, out: &Path) -> Failure {
    match error {
        ExportError::Capture(error) => Failure::new(capture.display(), error, error.next_step()),
        ExportError::Output(error) => files::refused(out.display(), error),
    }
}
