//! `pintle probe`: who answers, what it can tell, and how good the link is.

use std::fmt::Write;

use clap::Args;
use pintle_protocol::{
    Pid,
    bus::hex,
    dialogue::Controller,
    pid::{readiness::MonitorStatus, table},
    service::Services,
};
use serde::Serialize;

use super::{
    codes::{self, Entry, Silence, entries, light_words},
    connect::{self, Connect},
    failure::Failure,
    output, terminal,
};
use crate::link::{
    LinkError, Quality, Session,
    manufacturer_tests::ManufacturerTest,
    probe::{LOW_BATTERY_V, Probe},
};

/// Where misfires are known from: the counters of service 06, in the word of `diagnose --json`.
const COUNTERS: &str = "service06";

/// Where misfires are known from: trouble codes, in the word of `diagnose --json`.
const CODES: &str = "codes";

/// Connect and report adapter, bus, controllers and link speed.
///
/// Also: supply voltage, what each controller supports, trouble codes and readiness. Without `--port`, ports on which
/// no adapter is seen are passed over.
#[derive(Debug, Args)]
#[command(after_help = "Without a car, on a supplied capture: in one terminal\n\
        \x20 pintle replay captures/van3-healthy.capture.csv.gz --serve \\\n\
        \x20     --tcp 127.0.0.1:20100\n\
        in another\n\
        \x20 pintle probe --tcp 127.0.0.1:20100\n\
        \n\
        At a car:\n\
        \x20 pintle probe")]
pub struct Arguments {
    #[command(flatten)]
    connect: Connect,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    device: String,
    baud: Option<u32>,
    adapter: Adapter,
    supply_v: Option<f64>,
    protocol: &'static str,
    services: &'static str,
    /// Protocol and services for people.
    #[serde(skip)]
    words: [String; 2],
    identification: Option<String>,
    calibrations: Vec<String>,
    controllers: Vec<Member>,
    lamp_on: Option<bool>,
    stored: Option<Vec<Entry>>,
    pending: Option<Vec<Entry>>,
    permanent: Option<Vec<Entry>>,
    readiness: Option<Vec<Monitor>>,
    /// Where misfires of single cylinders are known from.
    misfire_source: Option<&'static str>,
    /// Service 06 before CAN, as it came.
    #[serde(rename = "maker_tests")]
    manufacturer_tests: Vec<RawTest>,
    link: Option<Link>,
    warnings: Vec<String>,
    cautions: Vec<&'static str>,
    #[serde(skip)]
    silence: Silence,
}

#[derive(Serialize)]
struct Adapter {
    name: Option<String>,
    /// Settings that it refused.
    refused: Vec<&'static str>,
}

/// A controller.
#[derive(Serialize)]
struct Member {
    address: Option<String>,
    engine: bool,
    /// Its name for people.
    #[serde(skip)]
    name: String,
    parameters: Vec<Parameter>,
    monitors: Vec<String>,
    information: Vec<String>,
    /// What stands before the numbers of parameters, monitors and information types when they are asked for.
    #[serde(skip)]
    asked_by: [&'static str; 3],
}

#[derive(Serialize)]
struct Parameter {
    pid: String,
    name: Option<&'static str>,
}

#[derive(Serialize)]
struct Monitor {
    monitor: &'static str,
    complete: bool,
}

/// A test of service 06 whose meaning only the manufacturer knows.
#[derive(Serialize)]
struct RawTest {
    test: String,
    messages: Vec<String>,
}

#[derive(Serialize)]
struct Link {
    answers_per_s: f64,
    bytes_per_s: f64,
    answer_time_ms: Option<f64>,
    limit_answers_per_s: Option<f64>,
    part_of_limit: Option<f64>,
    errors: u64,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let target = arguments.connect.target()?;
    let trace = arguments.connect.trace()?;
    let document = connect::block_on(async {
        let mut session = connect::session_anywhere(&target, trace).await?;
        let probe = session.probe().await;
        let probe = probe.map_err(|error| connect::failure(session.device(), &error))?;
        Ok(Document::of(&session, probe))
    })?;
    if arguments.json {
        output::print_json(&document)
    } else {
        output::print(&document.text())
    }
}

impl Document {
    fn of(session: &Session, probe: Probe) -> Self {
        let connection = session.connection();
        let engine = session.engine().ok();
        let member = |controller: &Controller| {
            Member::of(controller, engine == Some(controller), connection.services)
        };
        let codes = &probe.codes;
        Self {
            schema: "pintle.probe/1",
            device: session.device().to_string(),
            baud: session.baud(),
            adapter: Adapter {
                name: connection.adapter.name.clone(),
                refused: connection.adapter.refused.clone(),
            },
            supply_v: connection.voltage,
            protocol: connection.protocol.id(),
            services: connection.services.id(),
            words: [
                connection.protocol.to_string(),
                connection.services.to_string(),
            ],
            controllers: connection.controllers.iter().map(member).collect(),
            lamp_on: codes.status.map(|status| status.is_lamp_on()),
            stored: entries(codes.stored.as_deref()),
            pending: entries(codes.pending.as_deref()),
            permanent: entries(codes.permanent.as_deref()),
            readiness: codes.status.map(readiness),
            misfire_source: probe
                .counts_misfires
                .map(|counts| if counts { COUNTERS } else { CODES }),
            manufacturer_tests: probe.manufacturer_tests.iter().map(RawTest::of).collect(),
            link: probe.quality.as_ref().map(Link::of),
            warnings: warnings(session),
            cautions: codes::cautions(codes),
            silence: Silence::of(codes),
            identification: probe.identification,
            calibrations: probe.calibrations,
        }
    }

    fn text(&self) -> String {
        let mut text = terminal::text_of(&self.overview());
        for (name, list, silence) in [
            ("stored codes", &self.stored, self.silence),
            ("pending codes", &self.pending, self.silence),
            ("permanent codes", &self.permanent, Silence::NotThere),
        ] {
            codes::list(&mut text, name, list.as_deref(), silence);
        }
        for member in &self.controllers {
            member.append_to(&mut text);
        }
        self.append_manufacturer_tests(&mut text);
        let warnings = self.warnings.iter().map(String::as_str);
        for words in warnings.chain(self.cautions.iter().copied()) {
            text += &terminal::paragraph(words);
        }
        text
    }

    fn append_manufacturer_tests(&self, text: &mut String) {
        if self.manufacturer_tests.is_empty() {
            return;
        }
        text.push_str(
            "\ntest results (06) as received; before CAN only the manufacturer knows their meaning:\n",
        );
        for raw in &self.manufacturer_tests {
            for message in &raw.messages {
                // writing to a String cannot fail
                let _ = writeln!(text, "  06 {}  {message}", raw.test);
            }
        }
    }

    fn overview(&self) -> comfy_table::Table {
        let mut table = terminal::table(&[]);
        let mut row = |name: &str, value: String| {
            table.add_row([name, value.as_str()]);
        };
        let name = self.adapter.name.as_deref().unwrap_or("no name reported");
        let baud = self
            .baud
            .map(|baud| format!(", {baud} baud"))
            .unwrap_or_default();
        row("adapter", format!("{name}, on {}{baud}", self.device));
        if !self.adapter.refused.is_empty() {
            row("refuses", self.adapter.refused.join(", "));
        }
        let volts = self.supply_v.map(|volts| format!("{volts:.1} V"));
        row("supply", volts.unwrap_or_else(|| "not measured".to_owned()));
        let [bus, services] = &self.words;
        row("bus", bus.clone());
        row("services", services.clone());
        if let Some(identification) = &self.identification {
            row("vehicle", identification.clone());
        }
        if !self.calibrations.is_empty() {
            row("calibration", self.calibrations.join(", "));
        }
        row("check-engine light", light_words(self.lamp_on).to_owned());
        if let Some(monitors) = &self.readiness {
            row("readiness", readiness_words(monitors));
        }
        match self.misfire_source {
            Some(COUNTERS) => row("misfires", "counted by cylinder".to_owned()),
            Some(_) => row(
                "misfires",
                "no misfire counters; codes P0300 to P0312 and their freeze frame are used instead"
                    .to_owned(),
            ),
            None => {}
        }
        if let Some(link) = &self.link {
            row("link", link.words());
        }
        table
    }
}

impl Member {
    fn of(controller: &Controller, engine: bool, services: Services) -> Self {
        let parameter = |pid: u8| Parameter {
            pid: Pid(pid).to_string(),
            name: table::row(Pid(pid)).map(|row| row.name),
        };
        let hex = |item: u8| format!("{item:02X}");
        Self {
            address: controller.address.map(|address| address.to_string()),
            engine,
            name: name(controller, engine),
            parameters: controller.parameters.items().map(parameter).collect(),
            monitors: controller.monitors.items().map(hex).collect(),
            information: controller.information.items().map(hex).collect(),
            asked_by: match services {
                Services::SaeJ1979 => ["01", "06", "09"],
                Services::Iso14229 => ["F4", "F6", "F8"],
            },
        }
    }

    fn append_to(&self, text: &mut String) {
        // writing to a String cannot fail
        let _ = writeln!(text, "\n{}", self.name);
        let [current, monitor, kind] = self.asked_by;
        for parameter in &self.parameters {
            let name = parameter.name.unwrap_or("unknown PID");
            let _ = writeln!(text, "  {current} {}  {name}", parameter.pid);
        }
        for (asked_by, items) in [(monitor, &self.monitors), (kind, &self.information)] {
            if !items.is_empty() {
                let _ = writeln!(text, "  {asked_by}     {}", items.join(" "));
            }
        }
    }
}

impl RawTest {
    fn of(test: &ManufacturerTest) -> Self {
        Self {
            test: format!("{:02X}", test.test),
            messages: test
                .messages
                .iter()
                .map(|bytes| hex::encode(bytes))
                .collect(),
        }
    }
}

impl Link {
    fn of(quality: &Quality) -> Self {
        Self {
            answers_per_s: quality.answers_per_s(),
            bytes_per_s: quality.bytes_per_s(),
            answer_time_ms: quality.answer_time_s.map(|seconds| seconds * 1e3),
            limit_answers_per_s: quality.limit_per_s,
            part_of_limit: quality.part_of_limit(),
            errors: quality.errors(),
        }
    }

    fn words(&self) -> String {
        let mut words = format!(
            "{:.1} answers/s, {:.0} bytes/s",
            self.answers_per_s, self.bytes_per_s
        );
        if let (Some(limit), Some(part)) = (self.limit_answers_per_s, self.part_of_limit) {
            let _ = write!(
                words,
                ", {:.0} % of the {limit:.1} answers/s possible on this link",
                part * 100.0
            );
        }
        if let Some(answer_time_ms) = self.answer_time_ms {
            let _ = write!(words, "; answer time {answer_time_ms:.1} ms");
        }
        let _ = match self.errors {
            0 => write!(words, "; no errors"),
            errors => write!(words, "; {errors} errors"),
        };
        words
    }
}

/// The controller that reports engine speed is the engine's, whatever its address.
fn name(controller: &Controller, engine: bool) -> String {
    match controller.address {
        Some(address) if engine => format!("engine controller ({address})"),
        Some(address) => codes::controller_words(address),
        None => "controller without an address".to_owned(),
    }
}

fn readiness(status: MonitorStatus) -> Vec<Monitor> {
    let monitor = |monitor: pintle_protocol::pid::readiness::Monitor| Monitor {
        monitor: monitor.name,
        complete: monitor.is_complete,
    };
    status.monitors().map(monitor).collect()
}

fn readiness_words(monitors: &[Monitor]) -> String {
    let open = monitors.iter().filter(|monitor| !monitor.complete);
    let open: Vec<&str> = open.map(|monitor| monitor.monitor).collect();
    match open.as_slice() {
        [] => format!("all {} monitors complete", monitors.len()),
        open => format!("not complete: {}", open.join(", ")),
    }
}

fn warnings(session: &Session) -> Vec<String> {
    let mut warnings = Vec::new();
    let voltage = session.connection().voltage;
    if let Some(volts) = voltage.filter(|volts| *volts < LOW_BATTERY_V) {
        warnings.push(format!(
            "The battery is low ({volts:.1} V). Charge it before long checks, or controllers may stop answering."
        ));
    }
    if let Err(error @ LinkError::NoEngineController) = session.engine() {
        let (problem, step) = (error.to_string(), error.next_step(session.kind()));
        warnings.push(format!("No engine controller: {problem}; {step}."));
    }
    warnings
}
