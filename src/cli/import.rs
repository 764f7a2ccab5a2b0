//! `pintle import`: another logger's CSV into a capture.

use std::{
    fmt::Write,
    fs,
    path::{Path, PathBuf},
};

use clap::Args;
use serde::Serialize;

use super::{duration, failure::Failure, files, output, terminal};
use crate::import::{self, ColumnMap, Outcome};

/// Convert a table from another logger into a capture.
///
/// Headers that clearly name a quantity are recognised; for the others, a column map says what they hold. The command
/// lists what it recognised and what it left out. Values that the logger only repeats do not count as readings.
#[derive(Debug, Args)]
#[command(after_help = "Examples, with a table made by `export`:\n\
        \x20 pintle export captures/van3-healthy.capture.csv.gz --shape wide \\\n\
        \x20     --out drive.csv\n\
        \x20 pintle import drive.csv\n\
        \n\
        Where the headers do not say enough, a column map:\n\
        \x20 pintle import table.csv --columns map.toml\n\
        with map.toml:\n\
        \x20 rows_per_second = 2.0\n\
        \x20 [columns]\n\
        \x20 \"STFT B1\" = \"0106\"\n\
        \x20 \"Coolant F\" = { request = \"0105\", unit = \"degF\" }")]
pub struct Arguments {
    /// The table.
    file: PathBuf,
    /// What its columns hold (TOML).
    #[arg(long, value_name = "MAP")]
    columns: Option<PathBuf>,
    /// Name of the new capture; without it, the table's name with `.capture.csv`.
    #[arg(long, value_name = "CAPTURE")]
    out: Option<PathBuf>,
    /// The vehicle file to store with the readings.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    source: String,
    capture: String,
    #[serde(flatten)]
    outcome: &'a Outcome,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let map = arguments.columns.as_deref().map(read_map).transpose()?;
    let vehicle = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => arguments.file.with_extension("capture.csv"),
    };
    let size = fs::metadata(&arguments.file).map_or(0, |metadata| metadata.len());
    let bar = terminal::bytes_bar(size);
    let outcome = import::import(&arguments.file, map.as_ref(), vehicle, &out, |bytes| {
        bar.set_position(bytes);
    });
    bar.finish_and_clear();
    let outcome = outcome.map_err(|error| failure(&error, &arguments.file, &out))?;
    files::remark_unfinished_beside(&out);
    if arguments.json {
        output::print_json(&Document {
            schema: "pintle.import/1",
            source: arguments.file.display().to_string(),
            capture: out.display().to_string(),
            outcome: &outcome,
        })
    } else {
        output::print(&text(&outcome, &out))
    }
}

fn failure(error: &import::ImportError, source: &Path, out: &Path) -> Failure {
    let thing = match error {
        import::ImportError::Capture(_) => out,
        _ => source,
    };
    Failure::new(thing.display(), error, error.next_step())
}

fn read_map(path: &Path) -> Result<ColumnMap, Failure> {
    ColumnMap::from_toml(&files::read_text(path)?)
        .map_err(|error| Failure::new(path.display(), &error, error.next_step()))
}

fn text(outcome: &Outcome, out: &Path) -> String {
    let mut text = String::new();
    let mut line = |words: String| {
        // Writing to a text does not fail.
        let _ = writeln!(text, "{words}");
    };
    line(format!("wrote {}", out.display()));
    line(format!(
        "{} readings from {} rows, covering {}",
        outcome.readings,
        outcome.rows,
        duration::words(outcome.seconds)
    ));
    line(format!("rows: {}", outcome.timing));
    match outcome.new_readings_every_s {
        Some(seconds) => line(format!(
            "a new reading every {seconds:.1} s; repeated rows are not counted"
        )),
        None => line("every row has new readings".to_owned()),
    }
    if outcome.gaps > 0 {
        line(format!("{} gaps where rows are missing", outcome.gaps));
    }
    if outcome.rows_without_time > 0 {
        line(format!(
            "left out {} rows without a readable time",
            outcome.rows_without_time
        ));
    }
    if outcome.cut_end {
        line("the last line is cut off; its last field was left out".to_owned());
    }
    text.push('\n');
    text.push_str(&matched_table(outcome));
    if !outcome.left_out.is_empty() {
        text.push('\n');
        text.push_str(&left_out_table(outcome));
    }
    text
}

fn matched_table(outcome: &Outcome) -> String {
    let mut table = terminal::table(&["column", "taken for", "", "readings", ""]);
    for column in &outcome.matched {
        let mut notes = Vec::new();
        if let Some(words) = &column.read_as {
            notes.push(format!("read as \"{words}\""));
        }
        if column.converted {
            notes.push("unit converted".to_owned());
        }
        if column.unreadable > 0 {
            notes.push(format!("{} fields are not numbers", column.unreadable));
        }
        if column.impossible > 0 {
            notes.push(format!(
                "left out {} numbers that are impossible here: another unit?",
                column.impossible
            ));
        }
        table.add_row([
            column.header.clone(),
            column.request.clone(),
            column.name.clone().unwrap_or_default(),
            column.readings.to_string(),
            notes.join(", "),
        ]);
    }
    terminal::text_of(&table)
}

fn left_out_table(outcome: &Outcome) -> String {
    let mut table = terminal::table(&["left out", "why"]);
    for column in &outcome.left_out {
        table.add_row([&column.header, &column.why]);
    }
    terminal::text_of(&table)
}
