//! Verdicts on bench readings: as text for people and as a published document.

use std::fmt::Write;

use comfy_table::{ContentArrangement, Table, presets};
use pintle_protocol::Unit;
use serde::Serialize;

use super::{terminal_page::Page, warning_words::flow_outcome};
use crate::{
    bench::{Electrical, Findings, Flow, Hold, Injector, Leakage, Power, Rail},
    diagnose::diagnosis::FlowCheck,
    quantity::{Units, minus, signed},
    rounded::to_decimals,
};

/// Name and version of the document's format.
const SCHEMA: &str = "pintle.bench/1";

/// Findings as one document.
#[derive(Debug, Serialize)]
pub struct Document<'a> {
    schema: &'static str,
    injectors: Vec<Injector>,
    pressure: Option<Rail>,
    /// Flow check of the bank whose fuel trim is furthest from zero; null without captures.
    explains_trim: Option<ExplainsTrim>,
    explains_trim_by_bank: Vec<ExplainsTrim>,
    notes: &'a [String],
}

/// Whether the measured flows explain a bank's recorded fuel trim; each with its 95 % interval.
#[derive(Debug, Clone, Serialize)]
struct ExplainsTrim {
    bank: u8,
    predicted_pct: Option<f64>,
    predicted_low_pct: Option<f64>,
    predicted_high_pct: Option<f64>,
    observed_pct: Option<f64>,
    observed_low_pct: Option<f64>,
    observed_high_pct: Option<f64>,
    agree: Option<bool>,
    words: String,
}

impl From<&FlowCheck> for ExplainsTrim {
    fn from(check: &FlowCheck) -> Self {
        let part = |interval: Option<[f64; 3]>, index: usize| {
            rounded(interval.and_then(|ends| ends.get(index).copied()))
        };
        Self {
            bank: check.bank,
            predicted_pct: part(check.predicted_pct, 0),
            predicted_low_pct: part(check.predicted_pct, 1),
            predicted_high_pct: part(check.predicted_pct, 2),
            observed_pct: part(check.observed_pct, 0),
            observed_low_pct: part(check.observed_pct, 1),
            observed_high_pct: part(check.observed_pct, 2),
            agree: check.agree,
            words: flow_outcome(&check.outcome),
        }
    }
}

/// The document of the findings, with flow checks where captures exist.
pub fn document<'a>(found: &'a Findings, checks: &'a [FlowCheck]) -> Document<'a> {
    let by_bank: Vec<ExplainsTrim> = checks.iter().map(ExplainsTrim::from).collect();
    let size = |one: &&ExplainsTrim| one.observed_pct.map_or(-1.0, f64::abs);
    let worst = by_bank.iter().max_by(|a, b| size(a).total_cmp(&size(b)));
    Document {
        schema: SCHEMA,
        injectors: found.injectors.iter().map(rounded_injector).collect(),
        pressure: found.rail.as_ref().map(rounded_rail),
        explains_trim: worst.cloned(),
        explains_trim_by_bank: by_bank,
        notes: &found.notes,
    }
}

/// A number with no more decimals than a bench can resolve.
fn rounded(number: Option<f64>) -> Option<f64> {
    number.map(|number| to_decimals(number, 3))
}

fn rounded_injector(one: &Injector) -> Injector {
    Injector {
        ohms_at_20c: rounded(one.ohms_at_20c),
        relative_flow: rounded(one.relative_flow),
        low: rounded(one.low),
        high: rounded(one.high),
        relative_flow_after: rounded(one.relative_flow_after),
        gained_pct: rounded(one.gained_pct),
        ..one.clone()
    }
}

fn rounded_rail(rail: &Rail) -> Rail {
    Rail {
        pressure_kpa: rounded(rail.pressure_kpa),
        loaded_kpa: rounded(rail.loaded_kpa),
        fall_in_ten_minutes_kpa: rounded(rail.fall_in_ten_minutes_kpa),
        ..*rail
    }
}

/// The whole text, with tables as wide as the terminal where its width is known.
pub fn render(found: &Findings, checks: &[FlowCheck], units: Units, width: Option<u16>) -> String {
    let page = Page::new(width);
    let mut text = tables(found, width);
    if found
        .injectors
        .iter()
        .any(|one| one.relative_flow.is_some())
    {
        let words =
            "Flow: 1.00 is the mean of the set. The interval is what the instrument can resolve.";
        page.paragraph(&mut text, words, " ");
    }
    if let Some(rail) = &found.rail {
        text += &rail_words(rail, units);
    }
    if !(found.notes.is_empty() && checks.is_empty()) {
        text.push('\n');
    }
    for line in checks
        .iter()
        .map(check_words)
        .chain(found.notes.iter().cloned())
    {
        page.paragraph(&mut text, &line, "");
    }
    text
}

/// What a bank's flows need, what was recorded, and whether the two agree.
pub fn check_words(check: &FlowCheck) -> String {
    let interval = |ends: [f64; 3]| {
        let [mean, low, high] = ends.map(signed);
        format!("{mean} % ({low} to {high})")
    };
    let FlowCheck { bank, outcome, .. } = check;
    let words = flow_outcome(outcome);
    match (check.predicted_pct, check.observed_pct) {
        (Some(predicted), Some(observed)) => format!(
            "Bank {bank}: the measured flows need a fuel trim of {}, recorded (each driving condition weighted by how \
             well it is known) is {}: {words}.",
            interval(predicted),
            interval(observed)
        ),
        _ => format!("Bank {bank}: flow and fuel trim cannot be compared: {words}."),
    }
}

/// A column of the table: its heading and an injector's value in it; empty where nothing was measured.
pub(super) type Column = (&'static str, fn(&Injector) -> String);

/// Columns of readings that need no injector to be removed.
const ON_THE_CAR: &[Column] = &[
    ("winding at 20 °C", |one| {
        shown(one.ohms_at_20c, |ohms| format!("{ohms:.1} Ω"))
    }),
    ("winding", |one| coil_words(one).to_owned()),
    ("click", |one| yes_no(one.click)),
    ("pulse", |one| yes_no(one.pulse)),
    ("rpm drop", |one| {
        shown(one.rpm_drop, |rpm| format!("{rpm:.0}"))
    }),
    ("power", |one| power_words(one.rpm_drop, one.power)),
];
/// Columns of flow readings.
const FLOW: &[Column] = &[
    ("flow", |one| {
        shown(one.relative_flow, |flow| format!("{flow:.2}"))
    }),
    ("interval", |one| {
        shown(one.low.zip(one.high), |(low, high)| {
            format!("{low:.2} to {high:.2}")
        })
    }),
    ("result", |one| flow_words(one.relative_flow, one.flow)),
    ("cleaned", |one| {
        shown(one.relative_flow_after, |flow| format!("{flow:.2}"))
    }),
    ("gained", |one| {
        shown(one.gained_pct, |pct| minus(&format!("{pct:+.0} %")))
    }),
    ("now", |one| {
        flow_words(one.relative_flow_after, one.flow_after)
    }),
    ("leakage", |one| leakage_words(one.leakage).to_owned()),
];

/// The columns of both tables.
pub(super) const COLUMNS: [&[Column]; 2] = [ON_THE_CAR, FLOW];

fn tables(found: &Findings, width: Option<u16>) -> String {
    let both = COLUMNS.map(|columns| table(found, columns, width));
    let filled: Vec<String> = both.into_iter().flatten().collect();
    if filled.is_empty() {
        "Nothing in this form lets an injector be judged.\n".to_owned()
    } else {
        filled.join("\n")
    }
}

/// A table with one row for each injector; columns without any reading are left out.
fn table(found: &Findings, columns: &[Column], width: Option<u16>) -> Option<String> {
    let filled = |(_, cell): &&Column| found.injectors.iter().any(|one| !cell(one).is_empty());
    let columns: Vec<&Column> = columns.iter().filter(filled).collect();
    if columns.is_empty() {
        return None;
    }
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    if let Some(width) = width {
        table
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(width);
    }
    let headings = columns.iter().map(|(heading, _)| *heading);
    table.set_header(std::iter::once("cylinder").chain(headings));
    for one in &found.injectors {
        let cells = columns.iter().map(|(_, cell)| cell(one));
        table.add_row(std::iter::once(one.cylinder.to_string()).chain(cells));
    }
    let lines = table.lines();
    Some(lines.map(|line| format!("{}\n", line.trim_end())).collect())
}

fn shown<T>(value: Option<T>, words: impl Fn(T) -> String) -> String {
    value.map_or_else(String::new, words)
}

fn yes_no(value: Option<bool>) -> String {
    shown(value, |yes| if yes { "yes" } else { "no" }.to_owned())
}

const fn coil_words(one: &Injector) -> &'static str {
    match one.electrical {
        Electrical::Ok => "good",
        Electrical::Open if one.works_though_dead => "open?",
        Electrical::Short if one.works_though_dead => "shorted?",
        Electrical::Open => "open: dead",
        Electrical::Short => "shorted: dead",
        Electrical::OutOfRange => "out of range",
        Electrical::Unknown => "",
    }
}

fn flow_words(flow: Option<f64>, verdict: Flow) -> String {
    let words = match verdict {
        _ if flow.is_none() => "",
        Flow::Ok => "normal",
        Flow::Restricted => "restricted",
        Flow::Excess => "more than the others",
        Flow::Unknown => "unclear",
    };
    words.to_owned()
}

const fn leakage_words(leakage: Leakage) -> &'static str {
    match leakage {
        Leakage::Ok => "does not leak",
        Leakage::Leaks => "leaks",
        Leakage::Unknown => "",
    }
}

fn power_words(fall: Option<f64>, power: Power) -> String {
    let words = match power {
        _ if fall.is_none() => "",
        Power::Ok => "normal",
        Power::Weak => "weak",
        Power::Unknown => "unclear",
    };
    words.to_owned()
}

pub(super) fn rail_words(rail: &Rail, units: Units) -> String {
    // whole kPa and tenths of a psi are as much as a gauge can resolve
    let measure = |kpa: f64| {
        let step = match units {
            Units::Metric => 1.0,
            Units::Us => 0.689_475_7,
        };
        units.measure((kpa / step).round() * step, Some(Unit::Kilopascal))
    };
    let mut text = String::new();
    if let Some(kpa) = rail.pressure_kpa {
        let doubt = units.measure(rail.doubt_kpa, Some(Unit::Kilopascal));
        let range = match rail.in_range {
            Some(true) => ": within range",
            Some(false) => ": out of range",
            None => "",
        };
        let _ = writeln!(text, "\nrail pressure {} ± {doubt}{range}", measure(kpa));
    }
    if let Some(kpa) = rail.loaded_kpa {
        let says = match rail.falls_under_load {
            Some(true) => ": drops",
            Some(false) => ": steady",
            None => "",
        };
        let _ = writeln!(text, "under load {}{says}", measure(kpa));
    }
    if let Some(fall) = rail.fall_in_ten_minutes_kpa {
        let says = match rail.hold {
            Hold::Holds => "holds",
            Hold::Sinks => "inconclusive (more than a good rail loses, less than a leaking one)",
            Hold::Leaks => "leaks",
            Hold::Unknown => "",
        };
        let (way, kpa) = if fall < 0.0 {
            ("rises", -fall)
        } else {
            ("drops", fall)
        };
        let _ = writeln!(
            text,
            "leak-down: {way} by {} in ten minutes: {says}",
            measure(kpa)
        );
    }
    text
}
