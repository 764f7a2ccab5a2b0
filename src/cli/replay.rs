//! `pintle replay`: a trace of an earlier conversation, played as if adapter and car were there again.

use std::path::PathBuf;

use clap::Args;

use super::{connect, diagnose::standard_tables, failure::Failure, serve, terminal};
use crate::{
    clock::Clock,
    live::{self, ReplayError, Theme},
    simulator::{
        TracePlayer,
        endpoint::{self, Endpoint},
    },
    trace::{self, TraceError},
};

/// Play a trace as an adapter, for the other commands to plug into.
///
/// Each request gets the answer that the adapter in the trace gave to it, after the same time: what once went wrong at a
/// car can be looked at again without it. The command prints the option to plug in with, and goes on until Ctrl-C.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pintle probe --trace van3.trace\n  pintle replay van3.trace --serve        (then, in \
    another terminal: pintle probe --port …)\n  pintle replay van3.trace --serve --tcp 127.0.0.1:35000"
)]
pub struct Arguments {
    /// A trace, as `--trace` of the other commands writes it.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Open a virtual adapter that answers as in the trace.
    #[arg(long)]
    serve: bool,
    /// Open it on a TCP port instead of a pseudo-terminal; without an address, on a free one of this computer.
    #[arg(long, value_name = "HOST:PORT", num_args = 0..=1, requires = "serve")]
    tcp: Option<Option<String>>,
    /// Seconds of the recording in a second.
    #[arg(long, value_name = "TIMES", default_value_t = 1.0)]
    speed: f64,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    match arguments.serve {
        true => serve_trace(arguments),
        false => show(arguments),
    }
}

/// The screen on a capture.
fn show(arguments: &Arguments) -> Result<(), Failure> {
    let theme = Theme {
        colour: terminal::letters(),
    };
    let shown = live::replay(
        &arguments.file,
        arguments.speed,
        None,
        standard_tables()?,
        theme,
    );
    shown.map_err(|error| match error {
        ReplayError::Capture(_) if trace::read(&arguments.file).is_ok() => Failure::usage(format!(
            "{}: a trace has no screen; play it as an adapter with --serve",
            arguments.file.display()
        )),
        ReplayError::Capture(error) => {
            Failure::new(arguments.file.display(), &error, error.next_step())
        }
        ReplayError::Terminal(error) => terminal::no_screen(error),
    })
}

fn serve_trace(arguments: &Arguments) -> Result<(), Failure> {
    let failure =
        |error: TraceError| Failure::new(arguments.file.display(), &error, error.next_step());
    let entries = trace::read(&arguments.file).map_err(failure)?;
    let player = TracePlayer::new(&entries).map_err(failure)?;
    let (option, endpoint) = match &arguments.tcp {
        None => usual_place(player)?,
        Some(address) => ("--tcp", network(address.as_deref(), player)?),
    };
    let what = format!("{} is being played", arguments.file.display());
    connect::block_on(serve::until_stopped(option, &endpoint, what))
}

/// The place where this system's programs look for an adapter first, and the option that leads there.
#[cfg(unix)]
fn usual_place(player: TracePlayer) -> Result<(&'static str, Endpoint), Failure> {
    let endpoint = endpoint::open_pty(player, Clock::real());
    endpoint
        .map(|endpoint| ("--port", endpoint))
        .map_err(|error| {
            Failure::new(
                "virtual adapter",
                error,
                "close other programs or try --tcp",
            )
        })
}

#[cfg(not(unix))]
fn usual_place(player: TracePlayer) -> Result<(&'static str, Endpoint), Failure> {
    network(None, player).map(|endpoint| ("--tcp", endpoint))
}

fn network(address: Option<&str>, player: TracePlayer) -> Result<Endpoint, Failure> {
    match address {
        None => endpoint::open_tcp(player, Clock::real()),
        Some(address) => endpoint::open_tcp_at(address, player, Clock::real()),
    }
    .map_err(|error| {
        let thing = address.unwrap_or("virtual adapter");
        Failure::new(
            thing,
            error,
            "take a free port and an address of this computer, for example 127.0.0.1:35000",
        )
    })
}
