//! `pintle ports`: which serial ports there are, why one cannot be opened, and how an adapter is reached.

use clap::Args;
use serde::Serialize;

use super::{failure::Failure, output, terminal};
use crate::link::serial::{self, PortKind, SerialPort};

/// How each kind of adapter is reached on this system.
#[cfg(target_os = "linux")]
const WAYS: [&str; 3] = [
    "USB: plug it in. It appears as /dev/ttyUSB0 or /dev/ttyACM0.",
    "Bluetooth: pair it in the Bluetooth settings, then run `sudo rfcomm bind 0 ADDRESS` with its address \
     (`bluetoothctl devices` lists them). Use --port /dev/rfcomm0.",
    WIFI,
];
#[cfg(target_os = "macos")]
const WAYS: [&str; 3] = [
    "USB: plug it in. It appears as /dev/cu.usbserial-… or /dev/cu.usbmodem….",
    "Bluetooth: pair it in System Settings, Bluetooth. It appears as /dev/cu. and its name.",
    WIFI,
];
#[cfg(windows)]
const WAYS: [&str; 3] = [
    "USB: plug it in. It appears as a COM port; if not, install the driver from its supplier.",
    "Bluetooth: pair it in Settings, Bluetooth. Its outgoing COM port is listed under More Bluetooth settings, COM Ports.",
    WIFI,
];
#[cfg(not(any(target_os = "linux", target_os = "macos", windows)))]
const WAYS: [&str; 3] = [
    "USB: plug it in, and give its serial device with --port.",
    "Bluetooth: pair it, make a serial device for it with the system's tools, and give that with --port.",
    WIFI,
];

/// How to reach a Wi-Fi adapter, on every system.
const WIFI: &str = "Wi-Fi: join the adapter's own network, then use --tcp with the address and port in its leaflet, such as \
                    --tcp 192.168.4.20:20100.";

/// List the serial ports of this computer, and why one cannot be opened.
///
/// Without a USB or Bluetooth port, the command says how to reach an adapter on this system.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n\
        \x20 pintle ports")]
pub struct Arguments {
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    ports: Vec<Entry>,
}

#[derive(Serialize)]
struct Entry {
    #[serde(flatten)]
    port: SerialPort,
    /// Why it cannot be opened; `null` when it can.
    problem: Option<String>,
    next_step: Option<String>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let entries: Vec<Entry> = serial::list().into_iter().map(Entry::of).collect();
    if arguments.json {
        return output::print_json(&Document {
            schema: "pintle.ports/1",
            ports: entries,
        });
    }
    output::print(&listing(&entries))
}

impl Entry {
    fn of(port: SerialPort) -> Self {
        let obstacle = port.obstacle();
        Self {
            problem: obstacle.as_ref().map(ToString::to_string),
            next_step: obstacle.map(|obstacle| obstacle.next_step()),
            port,
        }
    }
}

fn listing(entries: &[Entry]) -> String {
    let mut table = terminal::table(&["port", "connected by", "device", "state"]);
    for entry in entries {
        let kind = match entry.port.kind {
            PortKind::Usb => "USB",
            PortKind::Bluetooth => "Bluetooth",
            PortKind::Other => "built in",
        };
        let description = entry.port.description.as_deref().unwrap_or("");
        let state = match (&entry.problem, &entry.next_step) {
            (Some(problem), Some(step)) => format!("{problem}; {step}"),
            _ if entry.port.kind == PortKind::Bluetooth => "not tried".to_owned(),
            _ => "can be opened".to_owned(),
        };
        table.add_row([entry.port.path.as_str(), kind, description, state.as_str()]);
    }
    let mut text = String::new();
    if !entries.is_empty() {
        text += &terminal::text_of(&table);
    }
    if entries
        .iter()
        .all(|entry| entry.port.kind == PortKind::Other)
    {
        if !entries.is_empty() {
            text.push('\n');
        }
        text += "No adapter seen. How to reach one:\n";
        for way in WAYS {
            text += &terminal::paragraph(way);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(kind: PortKind) -> Entry {
        Entry {
            port: SerialPort {
                path: "/dev/ttyX0".to_owned(),
                kind,
                description: None,
            },
            problem: None,
            next_step: None,
        }
    }

    #[test]
    fn without_an_adapter_the_ways_to_reach_one_are_listed() {
        for entries in [vec![], vec![entry(PortKind::Other)]] {
            let text = listing(&entries);
            for words in ["No adapter seen", "USB", "Bluetooth", "Wi-Fi", "--tcp"] {
                assert!(text.contains(words), "{words}: {text}");
            }
            assert_eq!(text.contains("/dev/ttyX0"), !entries.is_empty());
        }
        let text = listing(&[entry(PortKind::Other), entry(PortKind::Usb)]);
        assert!(!text.contains("No adapter seen"), "{text}");
    }
}
