//! What the adapter hangs on: a serial device or a network port.

use std::{fmt, path::Path};

use super::{error::OpenError, serial};

/// Speeds of the serial line that are tried when none is given, the most common first (common practice), in baud.
pub const SPEEDS: [u32; 5] = [38_400, 115_200, 9_600, 230_400, 500_000];

/// What the adapter hangs on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Device {
    /// A serial device, or a pseudo-terminal, by its path.
    Serial {
        /// Path of the device (`/dev/ttyUSB0`).
        path: String,
        /// Speed in baud; unknown, it is found by trying.
        baud: Option<u32>,
    },
    /// A network adapter, as `host:port`.
    Network(String),
}

/// How the adapter is reached, which decides what the person looks at first when it is gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkKind {
    /// A plug in this computer.
    Serial,
    /// A network.
    Network,
}

impl Device {
    /// How it is reached.
    pub const fn kind(&self) -> LinkKind {
        match self {
            Self::Serial { .. } => LinkKind::Serial,
            Self::Network(_) => LinkKind::Network,
        }
    }

    /// The speeds to try one after the other; none where there is no speed to choose.
    pub(super) fn speeds(&self) -> Vec<Option<u32>> {
        match self {
            Self::Network(_) => vec![None],
            Self::Serial { baud: Some(_), .. } => vec![self.given_speed()],
            Self::Serial { path, .. } if is_pseudo_terminal(path) => vec![None],
            Self::Serial { .. } => SPEEDS.into_iter().map(Some).collect(),
        }
    }

    /// This device under the path at which it is now; a network address stays.
    pub(super) fn moved_to(&self, path: &Path) -> Self {
        match self {
            Self::Serial { baud, .. } => Self::Serial {
                path: path.display().to_string(),
                baud: *baud,
            },
            Self::Network(address) => Self::Network(address.clone()),
        }
    }

    const fn given_speed(&self) -> Option<u32> {
        match self {
            Self::Serial { baud, .. } => *baud,
            Self::Network(_) => None,
        }
    }
}

impl fmt::Display for Device {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial { path, .. } => f.write_str(path),
            Self::Network(address) => f.write_str(address),
        }
    }
}

/// Where the adapter is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// On this device.
    Device(Device),
    /// At the only serial port where one may be, whichever that is when it is looked for.
    OnlyPort {
        /// Speed in baud; unknown, it is found by trying.
        baud: Option<u32>,
    },
}

impl Target {
    /// How the adapter there is reached.
    pub const fn kind(&self) -> LinkKind {
        match self {
            Self::Device(device) => device.kind(),
            Self::OnlyPort { .. } => LinkKind::Serial,
        }
    }

    /// The devices at which the adapter may be now: the one that was named, or every port that is likely.
    pub fn candidates(&self) -> Vec<Device> {
        let baud = match self {
            Self::Device(device) => return vec![device.clone()],
            Self::OnlyPort { baud } => *baud,
        };
        let ports = serial::list();
        let device = |port: &&serial::SerialPort| Device::Serial {
            path: port.path.clone(),
            baud,
        };
        serial::candidates(&ports).iter().map(device).collect()
    }

    /// The device that is there now.
    ///
    /// # Errors
    /// [`OpenError::NoPort`] and [`OpenError::SeveralPorts`] where none was named.
    pub fn find(&self) -> Result<Device, OpenError> {
        let mut candidates = self.candidates();
        match (candidates.pop(), candidates.is_empty()) {
            (None, _) => Err(OpenError::NoPort),
            (Some(device), true) => Ok(device),
            (Some(last), false) => {
                candidates.push(last);
                let paths = candidates.iter().map(ToString::to_string);
                Err(OpenError::SeveralPorts(paths.collect()))
            }
        }
    }
}

impl fmt::Display for Target {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Device(device) => device.fmt(f),
            Self::OnlyPort { .. } => f.write_str("adapter"),
        }
    }
}

/// Whether the path leads to a pseudo-terminal, which has no speed.
fn is_pseudo_terminal(path: &str) -> bool {
    std::fs::canonicalize(path).is_ok_and(|path| path.starts_with(Path::new("/dev/pts")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn serial(path: &str, baud: Option<u32>) -> Device {
        Device::Serial {
            path: path.to_owned(),
            baud,
        }
    }

    #[test]
    fn a_given_speed_is_the_only_one_and_otherwise_the_usual_ones_are_tried() {
        assert_eq!(serial("/dev/null", Some(9600)).speeds(), [Some(9600)]);
        let usual = serial("/dev/null", None).speeds();
        assert_eq!(usual.first(), Some(&Some(38_400)));
        assert_eq!(usual.len(), 5);
        assert_eq!(Device::Network("localhost:1".to_owned()).speeds(), [None]);
    }
}
