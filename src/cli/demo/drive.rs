//! One drive of the simulated car, recorded: on the live screen where there is a terminal, else with a line that tells how
//! far it is.

use std::path::Path;

use indicatif::ProgressBar;

use super::super::{
    connect, destination, diagnose::standard_tables, failure::Failure, interrupt::Interrupt,
    terminal,
};
use crate::{
    capture::Writer,
    clock::Clock,
    link::{Device, Ending, Expected, FeedConfig, RecordError, Recorded, Session, Target},
    live::{self, Wanted},
    vehicle::Vehicle,
};

/// How much faster than the clock on the wall the car is driven while somebody watches.
const PACE: u32 = 30;

/// A drive that is to be recorded.
pub(super) struct Drive {
    pub(super) device: Device,
    pub(super) vehicle: Vehicle,
    /// The car's own time.
    pub(super) clock: Clock,
    pub(super) length_us: u64,
    /// Whether a person who watches is waited for.
    pub(super) waits: bool,
}

impl Drive {
    /// Records it while the live screen shows it.
    pub(super) fn watch(self, path: &Path) -> Result<(), Failure> {
        let device = self.device.clone();
        let config = FeedConfig {
            target: Target::Device(self.device),
            clock: self.clock,
            pace: self.waits.then_some(PACE),
            trace: None,
            names: vec![path.to_owned()],
            vehicle: Some(self.vehicle),
            expected: Expected::default(),
            length_us: Some(self.length_us),
        };
        let wanted = Wanted {
            before: Vec::new(),
            guided: false,
            theme: terminal::theme(),
        };
        let watched =
            live::watch(config, standard_tables()?, wanted).map_err(terminal::no_screen)?;
        ended(&device, path, watched.capture.as_deref(), watched.recorded)
    }

    /// Records it as fast as this computer can; `shows` how far it is.
    pub(super) async fn record(self, path: &Path, shows: bool) -> Result<(), Failure> {
        let mut interrupt = Interrupt::listen()?;
        let failure = |error| connect::failure(&self.device, &error);
        let mut session = Session::connect(self.device.clone(), self.clock)
            .await
            .map_err(failure)?;
        let header = session.header(Some(self.vehicle));
        let file = |error| destination::failure(path, &error);
        let mut writer = Writer::create(path, &header).map_err(file)?;
        let bar = if shows {
            terminal::seconds_bar(self.length_us / 1_000_000)
        } else {
            ProgressBar::hidden()
        };
        let recorded = session
            .record(
                Some(&mut writer),
                Some(self.length_us),
                async || interrupt.stop().await,
                |_, progress| {
                    bar.set_position(progress.elapsed_us / 1_000_000);
                },
            )
            .await;
        bar.finish_and_clear();
        writer.finish().map_err(file)?;
        ended(&self.device, path, Some(path), recorded)
    }
}

/// `kept` is the capture, once the car has answered; `path` is where it was to be.
fn ended(
    device: &Device,
    path: &Path,
    kept: Option<&Path>,
    recorded: Result<Recorded, RecordError>,
) -> Result<(), Failure> {
    match recorded {
        Ok(recorded) if recorded.ending == Ending::TimeOver => Ok(()),
        Ok(_) => Err(Failure::interrupted(match kept {
            Some(kept) => format!("stopped; {} is kept", kept.display()),
            None => "stopped before the car answered; nothing was recorded".to_owned(),
        })),
        Err(RecordError::Link(error)) => Err(connect::failure(device, &error)),
        Err(RecordError::OtherCar(error)) => Err(destination::other_car(&error)),
        Err(RecordError::Capture(error)) => Err(destination::failure(path, &error)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_capture_that_is_there_is_called_kept() {
        let device = Device::Network("10.0.0.1:1".to_owned());
        let path = Path::new("before.capture.csv");
        let line = |kept| {
            let recorded = Recorded {
                ending: Ending::Stopped,
                length_us: 0,
                answers: 0,
                asked_again: 0,
            };
            let failure = ended(&device, path, kept, Ok(recorded)).unwrap_err();
            failure.to_string()
        };
        assert_eq!(line(Some(path)), "stopped; before.capture.csv is kept");
        assert!(!line(None).contains("kept"), "{}", line(None));
    }
}
