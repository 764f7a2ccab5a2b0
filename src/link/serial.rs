//! Serial devices: which there are, opening one, and why one cannot be opened.

use std::{
    collections::BTreeSet,
    fs, io,
    path::{Path, PathBuf},
};

use serde::Serialize;
use tokio_serial::{
    ErrorKind, SerialPortBuilderExt, SerialPortInfo, SerialPortType, SerialStream, UsbPortInfo,
};

use super::error::OpenError;
use crate::io_words;

/// Speed at which a device is opened that has none to choose, in baud.
const ANY_SPEED: u32 = 38_400;

/// A serial port of this computer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SerialPort {
    /// Path of the device.
    pub path: String,
    /// How it is connected.
    pub kind: PortKind,
    /// What the device calls itself, if it says so.
    pub description: Option<String>,
}

/// How a serial port is connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PortKind {
    /// By USB.
    Usb,
    /// By Bluetooth.
    Bluetooth,
    /// Built in, or the system does not say.
    Other,
}

/// What tells one USB device from another: maker, product, serial number. Cheap devices have no serial number, or all the
/// same.
pub(super) type UsbMark = (u16, u16, Option<String>);

/// What the system says of the USB device at this path, or at the end of this link (`/dev/serial/by-id/…`).
pub(super) fn usb_mark(path: &Path) -> Option<UsbMark> {
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let mut found = available().into_iter();
    mark_of(found.find(|port| Path::new(&port.port_name) == path)?)
}

/// The ports of which the system says this.
pub(super) fn marked(mark: &UsbMark) -> BTreeSet<PathBuf> {
    let path = |port: SerialPortInfo| {
        let path = PathBuf::from(&port.port_name);
        (mark_of(port).as_ref() == Some(mark)).then_some(path)
    };
    available().into_iter().filter_map(path).collect()
}

fn mark_of(port: SerialPortInfo) -> Option<UsbMark> {
    match port.port_type {
        SerialPortType::UsbPort(usb) => Some((usb.vid, usb.pid, usb.serial_number)),
        _ => None,
    }
}

fn available() -> Vec<SerialPortInfo> {
    if listable() {
        tokio_serial::available_ports().unwrap_or_default()
    } else {
        Vec::new()
    }
}

/// The serial ports of this computer, by name. Those without hardware behind them are left out.
pub fn list() -> Vec<SerialPort> {
    let mut ports: Vec<SerialPort> = available()
        .into_iter()
        .filter(|info| has_hardware(&info.port_name))
        .map(SerialPort::from_info)
        .collect();
    ports.sort_by(|a, b| a.path.cmp(&b.path));
    ports
}

/// On Linux the listing panics where `/sys` is not mounted, as in some containers.
fn listable() -> bool {
    cfg!(not(target_os = "linux")) || Path::new("/sys/class/tty").is_dir()
}

/// The kernel keeps names for built-in ports that many computers lack; their type is 0, "unknown".
fn has_hardware(path: &str) -> bool {
    let name = Path::new(path).file_name().unwrap_or_default();
    let kind = Path::new("/sys/class/tty").join(name).join("type");
    fs::read_to_string(kind).map_or(true, |kind| kind.trim() != "0")
}

/// Those ports among which an adapter is looked for: USB and Bluetooth ones, and only without any the others.
pub fn candidates(ports: &[SerialPort]) -> Vec<&SerialPort> {
    let (likely, others): (Vec<_>, Vec<_>) =
        ports.iter().partition(|port| port.kind != PortKind::Other);
    if likely.is_empty() { others } else { likely }
}

impl SerialPort {
    fn from_info(info: SerialPortInfo) -> Self {
        let (kind, description) = match info.port_type {
            SerialPortType::UsbPort(usb) => (PortKind::Usb, usb_words(usb)),
            SerialPortType::BluetoothPort => (PortKind::Bluetooth, None),
            SerialPortType::PciPort | SerialPortType::Unknown => (PortKind::Other, None),
        };
        Self {
            path: info.port_name,
            kind,
            description,
        }
    }

    /// Why the port cannot be opened now; `None` when it can. A Bluetooth port is not tried: opening it would call the
    /// other side.
    pub fn obstacle(&self) -> Option<OpenError> {
        match self.kind {
            PortKind::Bluetooth => None,
            PortKind::Usb | PortKind::Other => tokio_serial::new(self.path.as_str(), ANY_SPEED)
                .open_native()
                .err()
                .map(|error| open_error(&self.path, &error)),
        }
    }
}

fn usb_words(usb: UsbPortInfo) -> Option<String> {
    let words: Vec<String> = [usb.manufacturer, usb.product]
        .into_iter()
        .flatten()
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// Opens a device or pseudo-terminal by its path, for this program alone.
pub(super) fn open(path: &str, baud: Option<u32>) -> Result<SerialStream, OpenError> {
    tokio_serial::new(path, baud.unwrap_or(ANY_SPEED))
        .open_native_async()
        .map_err(|error| open_error(path, &error))
}

/// Sorts what the system says.
fn open_error(path: &str, error: &tokio_serial::Error) -> OpenError {
    let problem = io_words::without_number(&error.description);
    match error.kind() {
        ErrorKind::Io(io::ErrorKind::NotFound) => OpenError::Missing,
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => OpenError::NoPermission {
            group: group_of(path),
        },
        _ if !is_character_device(path) => OpenError::NotSerial,
        // Somebody holds the lock, or the exclusive claim.
        ErrorKind::NoDevice => OpenError::Busy,
        ErrorKind::Unknown if error.description.contains("typewriter") => OpenError::NotSerial,
        ErrorKind::InvalidInput => OpenError::Other(format!("it refuses this speed: {problem}")),
        _ => OpenError::Other(problem),
    }
}

#[cfg(unix)]
fn is_character_device(path: &str) -> bool {
    use std::os::unix::fs::FileTypeExt;
    fs::metadata(path).is_ok_and(|metadata| metadata.file_type().is_char_device())
}

#[cfg(not(unix))]
const fn is_character_device(_path: &str) -> bool {
    true
}

/// Name of the group that owns the device, if its members may read and write it.
#[cfg(unix)]
fn group_of(path: &str) -> Option<String> {
    use std::os::unix::fs::MetadataExt;
    let device = fs::metadata(path).ok()?;
    let may = device.mode() & 0o060 == 0o060;
    may.then_some(())?;
    group_name(&fs::read_to_string("/etc/group").ok()?, device.gid())
}

#[cfg(not(unix))]
const fn group_of(_path: &str) -> Option<String> {
    None
}

/// The name that the group file gives this number; the superuser's own group is not to be joined.
#[cfg(unix)]
fn group_name(groups: &str, number: u32) -> Option<String> {
    let line = groups
        .lines()
        .map(|line| line.split(':').collect::<Vec<_>>());
    let name = line
        .filter(|fields| {
            fields
                .get(2)
                .is_some_and(|field| *field == number.to_string())
        })
        .find_map(|fields| fields.first().map(|name| (*name).to_owned()));
    name.filter(|_| number != 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, kind: PortKind) -> SerialPort {
        SerialPort {
            path: path.to_owned(),
            kind,
            description: None,
        }
    }

    #[test]
    fn plugged_in_ports_go_before_built_in_ones() {
        let built_in = port("/dev/ttyS0", PortKind::Other);
        let usb = port("/dev/ttyUSB0", PortKind::Usb);
        let both = [built_in.clone(), usb.clone()];
        assert_eq!(candidates(&both), [&usb]);
        assert_eq!(candidates(&both[..1]), [&built_in]);
        assert_eq!(candidates(&[]), [&usb; 0]);
    }

    // The form of the group file: group(5).
    #[cfg(unix)]
    #[test]
    fn the_group_is_found_by_its_number() {
        let groups = "root:x:0:\ndialout:x:20:anna\nuucp:x:14:\n";
        assert_eq!(group_name(groups, 20).as_deref(), Some("dialout"));
        assert_eq!(group_name(groups, 21), None);
        assert_eq!(group_name(groups, 0), None);
        assert_eq!(group_name("nonsense\n::\n", 20), None);
    }

    #[tokio::test]
    async fn what_cannot_be_opened_is_told_by_its_reason() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("notes.txt");
        fs::write(&file, "dear reader").unwrap();
        let why = |path: &Path| open(path.to_str().unwrap(), None).unwrap_err();
        assert_eq!(why(&folder.path().join("none")), OpenError::Missing);
        assert_eq!(why(&file), OpenError::NotSerial);
        assert_eq!(why(folder.path()), OpenError::NotSerial);
        assert_eq!(why(Path::new("/dev/null")), OpenError::NotSerial);
    }

    #[test]
    fn listing_never_fails() {
        for port in list() {
            assert!(port.path.starts_with('/') || cfg!(windows), "{port:?}");
        }
    }
}
