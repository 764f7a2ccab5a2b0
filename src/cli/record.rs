//! `pintle record`: every answer of the car into a capture, until it is enough.

use std::path::PathBuf;

use clap::Args;
use indicatif::ProgressBar;

use super::{
    connect::{self, Connect},
    destination::{self, Destination},
    duration::Span,
    failure::Failure,
    filing::Filing,
    interrupt::Interrupt,
    one_car::SameCar,
    output, recorded, terminal,
};
use crate::{
    capture::{Decoder, Header, Kind, Row, Writer},
    link::{Device, Progress, RecordError, Target},
    printable,
    series::Builder,
    trace,
};

/// Record the car into a capture.
///
/// Fuel trims, engine speed, load and air flow are read as often as the link allows, misfire counters every few
/// seconds, temperatures and codes now and then. Only requests to read are sent to the car. Recording goes on when
/// the link is lost for a while; Ctrl-C ends it, and the capture is complete at any moment. With `--job`, another car
/// than the job's is refused before anything is recorded.
#[derive(Debug, Args)]
#[command(after_help = "Without a car, on a supplied capture: in one terminal\n\
        \x20 pintle replay captures/van3-healthy.capture.csv.gz --serve \\\n\
        \x20     --tcp 127.0.0.1:20100\n\
        in another\n\
        \x20 pintle record --tcp 127.0.0.1:20100 --for 5s --out try.capture.csv\n\
        \n\
        At a car:\n\
        \x20 pintle record --for 10m --vehicle van3.toml\n\
        \x20 pintle record --job visit --for 15m")]
pub struct Arguments {
    #[command(flatten)]
    connect: Connect,
    /// Name of the new capture (`.capture.csv` or `.capture.csv.gz`); without it, a name with today's date.
    #[arg(long, value_name = "FILE", conflicts_with = "job")]
    out: Option<PathBuf>,
    /// How long to record (`90s`, `10m`, `1h`); without it, until Ctrl-C.
    #[arg(long = "for", value_name = "TIME", allow_hyphen_values = true)]
    length: Option<Span>,
    /// The vehicle file to store with the readings.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    #[command(flatten)]
    filing: Filing,
    #[command(flatten)]
    same_car: SameCar,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let destination = Destination::new(
        arguments.out.as_deref(),
        &arguments.filing,
        arguments.vehicle.as_deref(),
        arguments.same_car,
    )?
    .or_dated();
    let device = arguments.connect.device()?;
    let trace = arguments.connect.trace()?;
    connect::block_on(record(
        &device,
        trace,
        &destination,
        arguments.length.map(Span::as_us),
    ))
}

async fn record(
    device: &Device,
    trace: Option<trace::Writer>,
    destination: &Destination,
    length_us: Option<u64>,
) -> Result<(), Failure> {
    let mut interrupt = Interrupt::listen()?;
    let mut session = tokio::select! {
        biased;
        () = interrupt.wished() => {
            return Err(Failure::interrupted("stopped before anything was recorded"));
        }
        session = connect::session(device, trace) => session?,
    };
    let found = session
        .description()
        .map_err(|error| connect::failure(device, &error))?;
    let doubts = session.meet(&destination.expected).await;
    let doubts = doubts.map_err(|error| destination::not_met(device, &error))?;
    doubts.iter().for_each(output::warn);
    let header = session.header(destination.vehicle.clone());
    let (path, mut writer) = Writer::create_first(&destination.names, &header)
        .map_err(|error| destination.failure(&error))?;
    output::remark(format_args!("{}: recording; {found}", path.display()));
    let mut watcher = Watcher::new(&header);
    let recorded = session
        .record(
            Some(&mut writer),
            length_us,
            async || interrupt.stop().await,
            |row, progress| {
                watcher.show(row, progress);
            },
        )
        .await;
    watcher.bar.finish_and_clear();
    let finished = writer.finish();
    let recorded = recorded.map_err(|error| match error {
        RecordError::Link(error) => connect::failure(device, &error),
        RecordError::Capture(error) => destination::failure(path, &error),
        RecordError::OtherCar(error) => destination::other_car(&error),
    })?;
    let path = &finished.map_err(|error| destination::failure(path, &error))?;
    let summary = watcher.builder.finish();
    destination.settle(path, &summary.facts.car)?;
    let what = recorded::words(Some(path), &recorded, summary.left_out());
    recorded::tell(&Target::Device(device.clone()), &recorded.ending, &what)
}

/// Shows how it goes: one line on a terminal, and what happens to the link everywhere. Counts what cannot be true.
struct Watcher {
    bar: ProgressBar,
    decoder: Decoder,
    builder: Builder,
}

impl Watcher {
    fn new(header: &Header) -> Self {
        let mut builder = Builder::new();
        builder.push_header(header);
        Self {
            bar: terminal::activity(),
            decoder: Decoder::new(header),
            builder,
        }
    }

    fn show(&mut self, row: &Row<'_>, progress: &Progress) {
        let builder = &mut self.builder;
        self.decoder.row(row, |fact| builder.take(&fact));
        if row.kind == Kind::Link {
            let text = format!("{:.0} s: {}", row.t_us as f64 / 1e6, row.response);
            self.bar.suspend(|| output::remark(&text));
        }
        if !self.bar.is_hidden() {
            let trouble = progress.trouble.as_deref().unwrap_or("recording");
            let words = format!("{:.0} answers/s, {trouble}", progress.answers_per_s);
            self.bar.set_message(printable::line(&words).into_owned());
        }
    }
}
