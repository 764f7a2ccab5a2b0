//! `pintle watch`: the live screen at a car.

use std::{
    io::{IsTerminal, stderr, stdin},
    path::PathBuf,
};

use clap::Args;

use super::{
    captured::Pool,
    connect::Connect,
    destination::{self, Destination},
    diagnose::standard_tables,
    duration::Span,
    failure::Failure,
    filing::Filing,
    one_car::SameCar,
    output, recorded, terminal,
};
use crate::{
    clock::Clock,
    job::Side,
    link::{Ending, FeedConfig, RecordError},
    live::{self, Wanted, Watched},
    report::text,
};

/// Watch a car on a live screen, and record it at the same time.
///
/// The screen shows whether it records, whether the readings count, fuel trims, misfires, the causes so far and what is
/// still needed. It only reads from the car and changes nothing in it. Press `m` to write a mark, `?` for help, `q` to
/// quit. Ctrl-C quits with exit code 130; the recording is complete either way. With `--job` or `--before`, another car
/// than theirs is refused.
#[derive(Debug, Args)]
#[command(after_help = "Without a car, on a supplied capture: in one terminal\n\
        \x20 pintle replay captures/van3-healthy.capture.csv.gz --serve \\\n\
        \x20     --tcp 127.0.0.1:20100\n\
        in another\n\
        \x20 pintle watch --tcp 127.0.0.1:20100 --record today.capture.csv\n\
        \n\
        At a car:\n\
        \x20 pintle watch --record today.capture.csv --vehicle van3.toml\n\
        \x20 pintle watch --job visit --guide\n\
        \x20 pintle watch --guide --before monday.capture.csv --record today.capture.csv")]
pub struct Arguments {
    #[command(flatten)]
    connect: Connect,
    /// Record to this new capture (`.capture.csv` or `.capture.csv.gz`). Without it and without `--job`, nothing is
    /// recorded; with `--guide`, the command asks first.
    #[arg(long, value_name = "FILE", conflicts_with = "job")]
    record: Option<PathBuf>,
    /// How long to watch (`90s`, `10m`, `1h`); without it, until `q`.
    #[arg(long = "for", value_name = "TIME", allow_hyphen_values = true)]
    length: Option<Span>,
    /// The vehicle file.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Be guided step by step until enough data is recorded.
    #[arg(long)]
    guide: bool,
    /// Captures from before the work, whose driving is to be repeated; with `--job`, the job's own once the work is done.
    #[arg(long, value_name = "CAPTURE", num_args = 1..)]
    before: Vec<PathBuf>,
    #[command(flatten)]
    filing: Filing,
    #[command(flatten)]
    same_car: SameCar,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let mut destination = Destination::new(
        arguments.record.as_deref(),
        &arguments.filing,
        arguments.vehicle.as_deref(),
        arguments.same_car,
    )?;
    let tables = standard_tables()?;
    let before = before(arguments)?;
    destination.expected.seen.extend(before.sightings());
    let target = arguments.connect.target()?;
    if arguments.guide && destination.names.is_empty() && wants_recording() {
        destination = destination.or_dated();
    }
    let config = FeedConfig {
        target: target.clone(),
        clock: Clock::real(),
        pace: None,
        trace: arguments.connect.trace()?,
        names: destination.names.clone(),
        vehicle: destination.vehicle.clone(),
        expected: destination.expected.clone(),
        length_us: arguments.length.map(Span::as_us),
    };
    let wanted = Wanted {
        before: before.summaries(),
        guided: arguments.guide,
        theme: terminal::theme(),
    };
    let watched = live::watch(config, tables, wanted).map_err(terminal::no_screen)?;
    let Watched {
        recorded,
        capture,
        doubts,
        car,
        diagnosis,
        standing,
        left_out,
        interrupted,
    } = watched;
    let recorded = recorded.map_err(|error| match error {
        RecordError::Link(error) => Failure::new(&target, &error, error.next_step(target.kind())),
        RecordError::Capture(error) => destination.failure(&error),
        RecordError::OtherCar(error) => destination::other_car(&error),
    })?;
    doubts.iter().for_each(output::warn);
    if let Some(path) = &capture {
        destination.settle(path, &car)?;
    }
    if let Some(diagnosis) = diagnosis {
        output::remark(terminal::paragraph(&text::finding(&diagnosis)).trim());
    }
    if let Some(standing) = standing.filter(|_| capture.is_some()) {
        output::remark(standing);
    }
    let what = recorded::words(capture.as_deref(), &recorded, left_out);
    match recorded.ending {
        // what the person asked for by a key is no interruption
        Ending::Stopped if !interrupted => output::remark(&what),
        ending => recorded::tell(&target, &ending, &what)?,
    }
    Ok(())
}

/// Asks whether a guided run is to be recorded; without a terminal nobody is asked, and it is not.
fn wants_recording() -> bool {
    if !stdin().is_terminal() || !stderr().is_terminal() {
        return false;
    }
    loop {
        output::ask("Record this run? (y/n) ");
        let mut answer = String::new();
        match stdin().read_line(&mut answer) {
            Ok(0) | Err(_) => return false,
            Ok(_) => {}
        }
        match answer.trim().to_lowercase().as_str() {
            "y" | "yes" => return true,
            "n" | "no" => return false,
            _ => {}
        }
    }
}

/// What was driven before the work, where that is known.
fn before(arguments: &Arguments) -> Result<Pool, Failure> {
    let mut captures = arguments.before.clone();
    if captures.is_empty()
        && let Some(job) = arguments.filing.open()?
        && job.side == Side::After
    {
        captures = job.captures_of(Side::Before).unwrap_or_default();
    }
    Pool::read(&captures)
}
