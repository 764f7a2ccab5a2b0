//! `pintle replay`: a capture on the screen; a capture or a trace played as if adapter and car were there again.

use std::path::PathBuf;

use clap::Args;

use super::{
    captured, connect,
    diagnose::standard_tables,
    duration::Span,
    failure::Failure,
    files,
    one_car::{SameCar, described},
    serve, terminal,
};
use crate::{
    capture::{CaptureError, Reader},
    clock::Clock,
    io_words,
    live::{self, Pace, ReplayError},
    simulator::adapter::{
        TracePlayer,
        endpoint::{self, Behind, Endpoint},
    },
    trace::{self, TraceError},
};

/// Replay a capture on the live screen, or as an adapter.
///
/// On the screen, the keys in the last line pause, go to another time or mark, and change the speed. Going back in a
/// very long compressed capture takes a moment.
///
/// With --serve, other commands can plug in as if the car were there again. A capture becomes a car: each request
/// gets what the controllers answered at that time of the recording, in any order. The recording starts when a
/// command that has plugged in asks for data, and starts again for each command. Where nobody answered in the
/// recording, and after its end, there is no answer. A trace is replayed byte by byte: each request gets the answer
/// that the adapter gave in the trace, after the same time. The command prints the option to plug in with, and runs
/// until Ctrl-C.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle replay captures/van7-weak-coil-2.capture.csv.gz --speed 4\n\
        \x20 pintle replay captures/van3-healthy.capture.csv.gz --serve --from 1m\n\
        \n\
        Then, in another terminal, `pintle probe` with the port that it prints. A trace is replayed the same way:\n\
        \x20 pintle replay van3.trace --serve --tcp 127.0.0.1:20100")]
pub struct Arguments {
    /// A capture; with --serve also a trace, as `--trace` of the other commands writes it.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Open a virtual adapter that answers from the file.
    #[arg(long)]
    serve: bool,
    /// Open it on a TCP port instead of a pseudo-terminal; without an address, on a free one of this computer.
    #[arg(long, value_name = "HOST:PORT", num_args = 0..=1, requires = "serve")]
    tcp: Option<Option<String>>,
    /// Start this long after the beginning (`90s`, `5m`); with --serve, after the first answer.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    from: Option<Span>,
    /// Speed on the screen: 0.125 to 1024 times as fast.
    #[arg(
        long,
        value_name = "TIMES",
        default_value = "1",
        value_parser = speed,
        conflicts_with = "serve"
    )]
    speed: f64,
    /// The vehicle file, for the screen; without it, the vehicle in the capture's header.
    #[arg(long, value_name = "FILE", conflicts_with = "serve")]
    vehicle: Option<PathBuf>,
    #[command(flatten)]
    same_car: SameCar,
}

/// A speed that the screen can play at.
fn speed(text: &str) -> Result<f64, String> {
    let (slowest, fastest) = (live::SPEEDS.start(), live::SPEEDS.end());
    let speed = text
        .parse()
        .ok()
        .filter(|speed| live::SPEEDS.contains(speed));
    speed.ok_or_else(|| format!("expected a number from {slowest} to {fastest}"))
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.serve {
        serve(arguments)
    } else {
        show(arguments)
    }
}

/// The screen on a capture.
fn show(arguments: &Arguments) -> Result<(), Failure> {
    let theme = terminal::theme();
    let vehicle = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    if let (Some(path), Some(vehicle)) = (&arguments.vehicle, &vehicle)
        && let Ok(seen) = captured::sighting(&arguments.file)
    {
        let described = described(path.display(), vehicle);
        arguments.same_car.check(&[seen], described.as_ref())?;
    }
    let pace = Pace {
        speed: arguments.speed,
        from_us: arguments.from.map_or(0, Span::as_us),
    };
    let shown = live::replay(&arguments.file, pace, vehicle, standard_tables()?, theme);
    shown.map_err(|error| match error {
        ReplayError::Capture(_) if trace::read(&arguments.file).is_ok() => Failure::usage(format!(
            "{}: a trace cannot be shown on the screen; replay it as an adapter with --serve",
            arguments.file.display()
        )),
        ReplayError::Capture(error) => {
            Failure::new(arguments.file.display(), &error, error.next_step())
        }
        ReplayError::Terminal(error) => terminal::no_screen(error),
    })
}

/// An adapter on a capture or a trace, told apart by what is in them.
fn serve(arguments: &Arguments) -> Result<(), Failure> {
    match Reader::open(&arguments.file) {
        Ok(reader) => recorded::serve(arguments, reader),
        Err(CaptureError::NotACapture(_)) => serve_trace(arguments),
        Err(error) => Err(Failure::new(
            arguments.file.display(),
            &error,
            error.next_step(),
        )),
    }
}

fn serve_trace(arguments: &Arguments) -> Result<(), Failure> {
    let player = trace::read(&arguments.file).and_then(|entries| TracePlayer::new(&entries));
    let player = player.map_err(|error| match &error {
        TraceError::NotATrace(found) => Failure::new(
            arguments.file.display(),
            format_args!("this is neither a capture nor a trace; its first line is {found:?}"),
            "give a `.capture.csv` file, or a file written with --trace",
        ),
        other => Failure::new(arguments.file.display(), other, other.next_step()),
    })?;
    if arguments.from.is_some() {
        return Err(Failure::usage(
            "--from: a trace always starts at its beginning; only a capture can start later",
        ));
    }
    let (option, endpoint) = arguments.open(player)?;
    let what = format!("replaying {}", arguments.file.display());
    connect::block_on(serve::until_stopped(
        option,
        &endpoint,
        what,
        std::future::pending(),
    ))
}

impl Arguments {
    /// Opens the adapter where it was asked for, and gives the option that leads there.
    fn open(&self, behind: impl Into<Behind>) -> Result<(&'static str, Endpoint), Failure> {
        match &self.tcp {
            None => usual_place(behind.into()),
            Some(address) => Ok(("--tcp", network(address.as_deref(), behind.into())?)),
        }
    }
}

/// The place where this system's programs look for an adapter first, and the option that leads there.
#[cfg(unix)]
fn usual_place(behind: Behind) -> Result<(&'static str, Endpoint), Failure> {
    let endpoint = endpoint::open_pty(behind, Clock::real());
    endpoint
        .map(|endpoint| ("--port", endpoint))
        .map_err(|error| {
            Failure::new(
                "virtual adapter",
                io_words::problem(&error),
                "close other programs or try --tcp",
            )
        })
}

#[cfg(not(unix))]
fn usual_place(behind: Behind) -> Result<(&'static str, Endpoint), Failure> {
    network(None, behind).map(|endpoint| ("--tcp", endpoint))
}

fn network(address: Option<&str>, behind: Behind) -> Result<Endpoint, Failure> {
    match address {
        None => endpoint::open_tcp(behind, Clock::real()),
        Some(address) => endpoint::open_tcp_at(address, behind, Clock::real()),
    }
    .map_err(|error| {
        let thing = address.unwrap_or("virtual adapter");
        Failure::new(
            thing,
            io_words::problem(&error),
            "use an address of this computer and a free port, for example 127.0.0.1:20100",
        )
    })
}

mod recorded;
