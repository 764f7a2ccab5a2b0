//! How the commands that talk to a car find their adapter, and the runtime they run in.

use std::{future::Future, path::PathBuf};

use clap::Args;

use super::{failure::Failure, output};
use crate::{
    clock::Clock,
    io_words,
    link::{Device, LinkError, OpenError, Session, Target},
    trace,
};

/// Where the adapter is.
#[derive(Debug, Args)]
#[group(skip)]
pub struct Connect {
    /// Serial port of the adapter; without it, the only one present.
    #[arg(long, value_name = "DEVICE", conflicts_with = "tcp")]
    port: Option<String>,
    /// Network address of the adapter.
    #[arg(long, value_name = "HOST:PORT")]
    tcp: Option<String>,
    /// Speed of the serial port in baud; without it, the usual ones are tried.
    #[arg(long, conflicts_with = "tcp", allow_negative_numbers = true, value_parser = clap::value_parser!(u32).range(300..=4_000_000))]
    baud: Option<u32>,
    /// Write every byte to and from the adapter, with its time, into this new file.
    #[arg(long, value_name = "FILE")]
    trace: Option<PathBuf>,
}

impl Connect {
    /// Where the adapter is: the device named, or the only candidate.
    pub fn target(&self) -> Result<Target, Failure> {
        let (path, baud) = match (&self.tcp, &self.port) {
            (Some(address), _) => return network(address),
            (None, None) => return Ok(Target::OnlyPort { baud: self.baud }),
            (None, Some(path)) => (path.clone(), self.baud),
        };
        Ok(Target::Device(Device::Serial { path, baud }))
    }

    /// The device there.
    pub fn device(&self) -> Result<Device, Failure> {
        let target = self.target()?;
        target
            .find()
            .map_err(|error| Failure::new(&target, &error, error.next_step()))
    }

    /// The trace asked for, begun.
    pub fn trace(&self) -> Result<Option<trace::Writer>, Failure> {
        let Some(path) = &self.trace else {
            return Ok(None);
        };
        let name = path.display().to_string();
        let tell = move |error| {
            let problem = io_words::problem(&error);
            output::remark(format_args!(
                "{name}: the trace ends here because it cannot be written ({problem}); everything else goes on"
            ));
        };
        trace::Writer::create(path, tell)
            .map(Some)
            .map_err(|error| Failure::new(path.display(), &error, error.next_step()))
    }
}

/// Connects to the car at the device that was named, or else at the first port at which an adapter is seen; ports without
/// one are passed over with a word.
pub async fn session_anywhere(
    target: &Target,
    trace: Option<trace::Writer>,
) -> Result<Session, Failure> {
    let devices = target.candidates();
    let are_several = devices.len() > 1;
    let passed_over = |device: &Device, error: &LinkError| {
        if are_several {
            output::remark(format_args!("{device}: no adapter seen ({error})"));
        }
    };
    let session = Session::connect_first(devices, Clock::real(), trace, passed_over).await;
    session.map_err(|(device, error)| match device {
        Some(device) if error.is_adapter_seen() || !are_several => failure(&device, &error),
        _ => {
            let error = OpenError::NoPort;
            Failure::new(target, &error, error.next_step())
        }
    })
}

/// Connects to the car through this device.
pub async fn session(device: &Device, trace: Option<trace::Writer>) -> Result<Session, Failure> {
    Session::connect_traced(device.clone(), Clock::real(), trace, |_| ())
        .await
        .map_err(|error| failure(device, &error))
}

/// The link's error as a line for the person.
pub fn failure(device: &Device, error: &LinkError) -> Failure {
    Failure::new(device, error, error.next_step(device.kind()))
}

/// Runs the work of a command to its end, on this thread.
pub fn block_on<T>(work: impl Future<Output = Result<T, Failure>>) -> Result<T, Failure> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(Failure::of_this_computer)?
        .block_on(work)
}

fn network(address: &str) -> Result<Target, Failure> {
    let port = address
        .rsplit_once(':')
        .map(|(_, port)| port.parse::<u16>());
    match port {
        Some(Ok(_)) => Ok(Target::Device(Device::Network(address.to_owned()))),
        _ => Err(Failure::usage(format!(
            "--tcp {address}: expected host and port, for example 192.168.4.20:20100"
        ))),
    }
}
