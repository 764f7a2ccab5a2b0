//! `pintle watch`: the live screen at a car.

use std::path::PathBuf;

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
    link::{Ending, Order, RecordError},
    live::{self, Wanted, Watched},
    report::text,
};

/// Watch a car on a live screen, and record at the same time.
///
/// Shows whether it records, whether what the engine does counts, the corrections and misfires, what it looks like so far
/// and what is still to be driven. Nothing is ever sent to the car but requests to read. `m` writes a mark, `?` explains,
/// `q` ends. Ctrl-C ends too and exits with 130; the recording is complete either way. With `--job` or `--before`, another
/// car than theirs is refused.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle watch --record van3.capture.csv --vehicle van3.toml\n  pintle watch --job van3-visit \
    --guide\n  pintle watch --guide --before monday.capture.csv --record today.capture.csv"
)]
pub struct Arguments {
    #[command(flatten)]
    connect: Connect,
    /// Record into this new capture (`.capture.csv`, or `.capture.csv.gz`); without it and without `--job`, nothing is
    /// kept.
    #[arg(long, value_name = "FILE", conflicts_with = "job")]
    record: Option<PathBuf>,
    /// How long to watch (`90s`, `10m`, `1h`); without it, until `q`.
    #[arg(long = "for", value_name = "TIME", allow_hyphen_values = true)]
    length: Option<Span>,
    /// The vehicle file.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// Be led step by step through what a sound answer needs.
    #[arg(long)]
    guide: bool,
    /// Captures from before the work: the screen shows what of their driving is still to be repeated; with `--job`, those
    /// of the job once the work is done.
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
    let place = arguments.connect.place()?;
    let order = Order {
        place: place.clone(),
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
    let watched = live::watch(order, tables, wanted).map_err(terminal::no_screen)?;
    let Watched {
        recorded,
        capture,
        doubts,
        car,
        diagnosis,
        left_out,
        interrupted,
    } = watched;
    let recorded = recorded.map_err(|error| match error {
        RecordError::Link(error) => Failure::new(&place, &error, error.next_step(place.kind())),
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
    let what = recorded::words(capture.as_deref(), &recorded, left_out);
    match recorded.ending {
        // what the person asked for by a key is no interruption
        Ending::Stopped if !interrupted => output::remark(&what),
        ending => recorded::tell(&place, &ending, &what)?,
    }
    Ok(())
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
