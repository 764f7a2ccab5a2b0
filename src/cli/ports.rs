//! `pintle ports`: which serial ports there are, and why one cannot be opened.

use clap::Args;
use serde::Serialize;

use super::{failure::Failure, output, terminal};
use crate::link::serial::{self, PortKind, SerialPort};

/// List the serial ports of this computer, and why one cannot be opened.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  pintle ports")]
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
    if entries.is_empty() {
        return output::print("no serial port: plug the adapter in and look again\n");
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
    terminal::text_of(&table)
}
