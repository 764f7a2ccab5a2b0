//! `pintle codes`: trouble codes, the check-engine light and the freeze frame.

use std::{fmt::Write, path::PathBuf};

use clap::Args;
use pintle_protocol::{Address, Item, Unit, dtc::failure_type, service::current_data};
use serde::Serialize;

mod clear;

use super::{
    connect::{self, Connect},
    destination,
    failure::Failure,
    filing::{Filing, Job},
    one_car::SameCar,
    output, terminal,
};
use crate::{
    caution::Caution,
    job::Kind,
    link::{
        Device, Expected, Session,
        codes::{Codes, FoundCode, FreezeFrame},
    },
    quantity::{self, Units},
};

/// Codes of misfire: P0300 (several cylinders) and P0301 to P0312 (one cylinder), by ISO 15031-6.
const MISFIRE_CODES: std::ops::RangeInclusive<u16> = 0x0300..=0x0312;

/// Read trouble codes and the freeze frame, or clear them.
///
/// Nothing is cleared without `--clear`, and only with the engine off and after you confirm. What clearing would lose
/// is saved first: codes, freeze frame, fuel trims, misfire counters and readiness.
#[derive(Debug, Args)]
#[command(after_help = "Without a car, on a supplied capture: in one terminal\n\
        \x20 pintle replay captures/van3-healthy.capture.csv.gz --serve \\\n\
        \x20     --tcp 127.0.0.1:20100\n\
        in another\n\
        \x20 pintle codes --tcp 127.0.0.1:20100\n\
        \n\
        At a car:\n\
        \x20 pintle codes\n\
        \x20 pintle codes --clear --out before.capture.csv")]
pub struct Arguments {
    #[command(flatten)]
    connect: Connect,
    /// Units for people: `metric` or `us`; JSON stays metric.
    #[arg(long, default_value = "metric")]
    units: Units,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
    /// Clear stored and pending codes and the freeze frame; fuel trims, misfire counters and readiness start again
    /// from zero.
    #[arg(long)]
    clear: bool,
    /// Clear without asking first.
    #[arg(long, requires = "clear")]
    yes: bool,
    /// Name of the new capture for what clearing would lose; without it, a name with today's date.
    #[arg(long, value_name = "FILE", requires = "clear")]
    out: Option<PathBuf>,
    #[command(flatten)]
    filing: Filing,
    #[command(flatten)]
    same_car: SameCar,
}

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    lamp_on: Option<bool>,
    stored: Option<Vec<Entry>>,
    pending: Option<Vec<Entry>>,
    permanent: Option<Vec<Entry>>,
    freeze_frame: Option<Frame>,
    cautions: Vec<&'static str>,
    #[serde(skip)]
    silence: Silence,
}

/// A code as it is shown.
#[derive(Debug, Serialize)]
pub(super) struct Entry {
    code: String,
    meaning: Option<&'static str>,
    /// The kind of failure, where the car tells it.
    #[serde(skip_serializing_if = "Option::is_none")]
    failure: Option<String>,
    controller: Option<String>,
    /// The controller in words.
    #[serde(skip)]
    controller_name: Option<String>,
}

#[derive(Serialize)]
struct Frame {
    code: String,
    values: Vec<FrozenValue>,
}

#[derive(Serialize)]
struct FrozenValue {
    pid: String,
    name: String,
    value: f64,
    unit: &'static str,
    #[serde(skip)]
    measure: Option<Unit>,
    text: Option<String>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.clear {
        return clear::run(arguments);
    }
    let job = arguments.filing.open()?;
    let device = arguments.connect.device()?;
    let trace = arguments.connect.trace()?;
    let codes = connect::block_on(async {
        let mut session = connect::session(&device, trace).await?;
        arguments.meet(&device, &mut session, job.as_ref()).await?;
        let codes = session.codes().await;
        codes.map_err(|error| connect::failure(&device, &error))
    })?;
    let document = Document::of(&codes);
    if let Some(job) = &job {
        job.file_json(Kind::Codes, &document)?;
    }
    if arguments.json {
        output::print_json(&document)
    } else {
        output::print(&document.text(arguments.units))
    }
}

impl Arguments {
    /// Refuses another car than the job's.
    async fn meet(
        &self,
        device: &Device,
        session: &mut Session,
        job: Option<&Job>,
    ) -> Result<(), Failure> {
        let Some(job) = job else {
            return Ok(());
        };
        let expected = Expected {
            seen: job.sightings()?,
            described: job.described(),
            same_car: self.same_car.same_car,
        };
        let doubts = session.meet(&expected).await;
        let doubts = doubts.map_err(|error| destination::not_met(device, &error))?;
        doubts.iter().for_each(output::warn);
        Ok(())
    }
}

impl Document {
    fn of(codes: &Codes) -> Self {
        Self {
            schema: "pintle.codes/1",
            lamp_on: codes.status.map(|status| status.is_lamp_on()),
            stored: entries(codes.stored.as_deref()),
            pending: entries(codes.pending.as_deref()),
            permanent: entries(codes.permanent.as_deref()),
            freeze_frame: codes.freeze_frame.as_ref().map(Frame::of),
            cautions: cautions(codes),
            silence: Silence::of(codes),
        }
    }

    fn text(&self, units: Units) -> String {
        let mut text = format!("check-engine light: {}\n", light_words(self.lamp_on));
        for (name, entries, silence) in [
            ("stored", &self.stored, self.silence),
            ("pending", &self.pending, self.silence),
            ("permanent", &self.permanent, Silence::NotThere),
        ] {
            list(&mut text, name, entries.as_deref(), silence);
        }
        match &self.freeze_frame {
            None => text.push_str("freeze frame: none\n"),
            Some(frame) => frame.append_to(&mut text, units),
        }
        for caution in &self.cautions {
            text += &terminal::paragraph(caution);
        }
        text
    }
}

impl Frame {
    fn of(frame: &FreezeFrame) -> Self {
        let mut values = Vec::new();
        for (pid, data) in &frame.values {
            current_data::numbers_of(*pid, data, |item, value| {
                values.push(FrozenValue::of(pid.to_string(), item, value));
            });
        }
        Self {
            code: frame.code.to_string(),
            values,
        }
    }

    fn append_to(&self, text: &mut String, units: Units) {
        let _ = writeln!(text, "freeze frame of {}:", self.code);
        let mut table = terminal::table(&["  item", "name", "value"]);
        for value in &self.values {
            let shown = match &value.text {
                Some(words) => words.clone(),
                None => units.measure(value.value, value.measure),
            };
            table.add_row([format!("  {}", value.pid), value.name.clone(), shown]);
        }
        text.push_str(&terminal::text_of(&table));
    }
}

impl FrozenValue {
    fn of(pid: String, item: Item, value: f64) -> Self {
        Self {
            name: quantity::name(item).unwrap_or_else(|| item.to_string()),
            unit: quantity::unit(item).map_or("", |unit| unit.symbol()),
            measure: quantity::unit(item),
            text: quantity::text(item, value),
            pid,
            value,
        }
    }
}

/// The codes of a list as they are shown.
pub(super) fn entries(codes: Option<&[FoundCode]>) -> Option<Vec<Entry>> {
    let entry = |found: &FoundCode| Entry {
        code: found.code.to_string(),
        meaning: found.code.meaning(),
        failure: found.failure_type.map(|kind| {
            let words = failure_type::meaning(kind);
            words.map_or_else(|| format!("failure type {kind:02X}"), str::to_owned)
        }),
        controller: found.controller.map(|address| address.to_string()),
        controller_name: found.controller.map(controller_words),
    };
    Some(codes?.iter().map(entry).collect())
}

/// What it means when a list of codes is not answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Silence {
    /// The car does not have the list.
    NotThere,
    /// The car does not have the list, or has no code in it.
    MayMeanNone,
}

impl Silence {
    /// For stored and pending codes of this car; permanent ones came after the buses that allow it.
    pub const fn of(codes: &Codes) -> Self {
        if codes.silence_may_mean_none {
            Self::MayMeanNone
        } else {
            Self::NotThere
        }
    }
}

/// Appends a list of codes, one a line; says so when it is empty or was not answered.
pub(super) fn list(text: &mut String, name: &str, entries: Option<&[Entry]>, silence: Silence) {
    // writing to a String cannot fail
    let _ = match entries {
        None if silence == Silence::MayMeanNone => {
            writeln!(text, "{name}: no answer, which on this bus can mean none")
        }
        None => writeln!(text, "{name}: not supported by this car"),
        Some([]) => writeln!(text, "{name}: none"),
        Some(_) => writeln!(text, "{name}:"),
    };
    for entry in entries.unwrap_or_default() {
        let meaning = entry.meaning.unwrap_or("no standard meaning");
        let _ = write!(text, "  {}  {meaning}", entry.code);
        if let Some(failure) = &entry.failure {
            let _ = write!(text, ": {failure}");
        }
        if let Some(controller) = &entry.controller_name {
            let _ = write!(text, ", from the {controller}");
        }
        text.push('\n');
    }
}

/// A controller by what it usually is, and its address.
pub(super) fn controller_words(address: Address) -> String {
    match address.usual_role() {
        Some(role) => format!("{role} controller ({address})"),
        None => format!("controller {address}"),
    }
}

/// The check-engine light in words.
pub(super) const fn light_words(on: Option<bool>) -> &'static str {
    match on {
        Some(true) => "on",
        Some(false) => "off",
        None => "not known",
    }
}

/// What to be careful about with these codes.
pub(super) fn cautions(codes: &Codes) -> Vec<&'static str> {
    let active = [&codes.stored, &codes.pending]
        .into_iter()
        .flatten()
        .flatten();
    let misfire = active
        .into_iter()
        .any(|found| MISFIRE_CODES.contains(&found.code.0));
    if misfire {
        vec![Caution::Catalyst.words()]
    } else {
        Vec::new()
    }
}

#[cfg(test)]
mod tests {
    use pintle_protocol::{Pid, dtc::TroubleCode};

    use super::*;

    fn found(code: &str) -> FoundCode {
        FoundCode {
            controller: "7E8".parse().ok(),
            code: code.parse::<TroubleCode>().unwrap(),
            failure_type: None,
        }
    }

    #[test]
    fn lists_that_are_empty_or_unanswered_are_told_apart() {
        let codes = Codes {
            stored: Some(vec![found("P0303")]),
            pending: Some(Vec::new()),
            ..Codes::default()
        };
        let text = Document::of(&codes).text(Units::Metric);
        assert!(
            text.contains("stored:\n  P0303  misfires cylinder 3"),
            "{text}"
        );
        assert!(text.contains("pending: none"), "{text}");
        assert!(text.contains("permanent: not supported"), "{text}");
        assert!(text.contains("stop driving"), "{text}");
        let older = Codes {
            silence_may_mean_none: true,
            ..Codes::default()
        };
        let text = Document::of(&older).text(Units::Metric);
        assert!(text.contains("stored: no answer, which"), "{text}");
        assert!(text.contains("permanent: not supported"), "{text}");
    }

    // SAE J2012-DA (from memory): 13 is an open circuit; F0 is not known here.
    #[test]
    fn the_kind_of_failure_is_told_where_the_car_tells_it() {
        let of_type = |kind| FoundCode {
            failure_type: Some(kind),
            ..found("P0203")
        };
        let codes = Codes {
            stored: Some(vec![of_type(0x13), of_type(0xF0)]),
            ..Codes::default()
        };
        let text = Document::of(&codes).text(Units::Metric);
        assert!(
            text.contains("cylinder 3: circuit open, from the engine controller (7E8)"),
            "{text}"
        );
        assert!(text.contains("cylinder 3: failure type F0"), "{text}");
    }

    // The worked values of SAE J1979: 7B is 83 °C, 1A F8 is 1726 rpm.
    #[test]
    fn a_freeze_frame_is_told_with_names_and_units() {
        let codes = Codes {
            stored: Some(vec![found("P0171")]),
            freeze_frame: Some(FreezeFrame {
                code: TroubleCode(0x0171),
                values: vec![(Pid(0x05), vec![0x7B]), (Pid(0x0C), vec![0x1A, 0xF8])],
            }),
            ..Codes::default()
        };
        let document = Document::of(&codes);
        assert!(document.cautions.is_empty());
        let text = document.text(Units::Metric);
        assert!(text.contains("freeze frame of P0171"), "{text}");
        assert!(
            text.contains("83 °C") && text.contains("1726 rpm"),
            "{text}"
        );
        assert!(document.text(Units::Us).contains("181.4 °F"));
    }
}
