//! `pintle demo`: the whole job on a simulated car behind a virtual adapter, no hardware needed.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

mod bay;
mod drive;
mod job;
mod serve;

use super::{connect, failure::Failure};
use crate::simulator::car::{
    fault::Fault,
    fleet::{self, CarSpec},
    trip::Trip,
};

/// Do a whole job on a simulated car, no hardware needed.
///
/// A car with a fault is driven with a virtual adapter plugged in, watched on the live screen, recorded and
/// diagnosed. Then the fault is repaired, the car is driven and recorded again, both sides are compared, and the page
/// for the customer is written. On the screen a minute of driving passes in two seconds; without a screen, and with
/// `--fast`, as fast as this computer can. Times in the captures are the simulated car's.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n\
        \x20 pintle demo\n\
        \x20 pintle demo --car van7 --fault ignition_weak:2 --fast\n\
        \x20 pintle demo --serve\n\
        \n\
        With --serve, connect in another terminal, with the port that it prints: pintle probe --port PORT\n\
        \n\
        Cars: van3, van7, wagon2, pickup1, hatch5; newer: van8 (SAE J1979-2); from before CAN: van1 (ISO 9141-2), pickup4 (SAE J1850).\n\
        A fault is cause[:cylinder or bank][:size].")]
pub struct Arguments {
    /// The simulated car.
    #[arg(long, default_value = "van3")]
    car: String,
    /// Its fault; `none_found` for a healthy car.
    #[arg(long, default_value = "injector_restricted:3:30", value_name = "FAULT")]
    fault: Fault,
    /// Number that picks the car, the driver and the weather.
    #[arg(long, default_value_t = 1, value_parser = seed, allow_negative_numbers = true)]
    seed: u64,
    /// New folder for the job; without it, a name with today's date.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Drive five minutes on each side instead of twenty.
    #[arg(long)]
    short: bool,
    /// Do not wait: simulated time runs as fast as this computer can.
    #[arg(long)]
    fast: bool,
    /// No screen while driving.
    #[arg(long)]
    no_screen: bool,
    /// Only open the virtual adapter, in real time, so that the other commands can plug in; Ctrl-C ends it.
    #[arg(long, value_name = "WHERE", num_args = 0..=1, default_missing_value = ServeOn::USUAL,
        conflicts_with_all = ["out", "short", "fast", "no_screen"])]
    serve: Option<ServeOn>,
    /// With `--serve`: the engine is off and the key is on after a drive, as `codes --clear` needs it.
    #[arg(long, requires = "serve")]
    parked: bool,
}

/// Where the virtual adapter is opened.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum ServeOn {
    /// On a pseudo-terminal, as if it were a serial device.
    #[cfg(unix)]
    Pty,
    /// On a free TCP port of this computer.
    Tcp,
}

impl ServeOn {
    /// The value that stands for the place where this system's programs look for an adapter first.
    const USUAL: &str = if cfg!(unix) { "pty" } else { "tcp" };
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let spec = car(&arguments.car)?;
    let fault = &arguments.fault;
    fault
        .check(spec)
        .map_err(|error| Failure::usage(format!("--fault: {error}")))?;
    if let Some(place) = arguments.serve {
        let scene = serve::Scene {
            spec,
            fault: *fault,
            seed: arguments.seed,
            parked: arguments.parked,
        };
        return connect::block_on(scene.serve(place));
    }
    let job = job::Job {
        spec,
        fault: *fault,
        seed: arguments.seed,
        folder: job::new_folder(arguments.out.as_deref())?,
        drive: if arguments.short {
            Trip::short
        } else {
            Trip::warm
        },
        waits: !arguments.fast,
        shows: !arguments.no_screen,
    };
    connect::block_on(job.run())
}

fn seed(text: &str) -> Result<u64, &'static str> {
    text.parse()
        .map_err(|_| "expected a whole number from 0 up")
}

fn car(id: &str) -> Result<&'static CarSpec, Failure> {
    fleet::car(id).ok_or_else(|| {
        let ids: Vec<&str> = fleet::FLEET.iter().map(|car| car.id).collect();
        Failure::usage(format!("--car {id}: expected one of {}", ids.join(", ")))
    })
}
