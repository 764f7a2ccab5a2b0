//! A diagnosis as a technician reads it on a terminal: the finding first, then what it rests on,
//! then what to do.

use std::fmt::Write;

use comfy_table::{ContentArrangement, Table, presets};

use crate::{
    cause::Cause,
    caution::Caution,
    diagnose::{
        Diagnosis, at,
        diagnosis::{Finding, Misfires, StandingOut, Treatment},
        thousands,
    },
    series::{
        misfire_frame::MisfireFrame,
        summary::{NotJudged, Seconds},
    },
    statistics::poisson::MisfirePattern,
};

use super::{
    bench,
    words::{also, percent, phrase, size, times},
};

/// Width when the terminal does not say.
const USUAL_WIDTH: u16 = 100;
/// Causes below this are left to the machine-readable form.
const WORTH_SHOWING: f64 = 0.02;
/// Evidence shown for a cause.
const MOST_EVIDENCE: usize = 3;
/// Checks shown.
const MOST_CHECKS: usize = 3;
/// A cause leads for sure from this probability on.
const SURE: f64 = 0.5;
/// With fewer seconds that count nothing is said of this car.
const LITTLE_S: f64 = 60.0;
/// Bold letters on and off (ECMA-48).
const BOLD: &str = "\x1b[1m";
const PLAIN: &str = "\x1b[0m";

/// How the text is to be laid out.
#[derive(Debug, Clone, Copy, Default)]
pub struct Layout {
    /// Columns, where they are known.
    pub width: Option<u16>,
    /// Whether the finding may stand in bold letters.
    pub bold: bool,
}

/// The whole text.
pub fn render(diagnosis: &Diagnosis, layout: Layout) -> String {
    let page = Page::new(layout);
    let mut text = page.first(&finding(diagnosis), layout);
    let mut told: Vec<Caution> = Vec::new();
    if let Some(first) = diagnosis.cautions.first()
        && diagnosis.misfires.is_heavy()
    {
        page.paragraph(&mut text, first.words(), "");
        told.push(*first);
    }
    page.paragraph(&mut text, &seconds(&diagnosis.seconds), "");
    page.trims(&mut text, diagnosis);
    page.misfires(&mut text, diagnosis);
    page.bench(&mut text, diagnosis);
    page.causes(&mut text, diagnosis);
    page.checks(&mut text, diagnosis, &mut told);
    page.treatment(&mut text, diagnosis, &mut told);
    let warnings = diagnosis.warnings.iter().map(String::as_str);
    page.list(&mut text, "Mind", warnings);
    text
}

/// When a misfire code was stored.
pub(super) fn frozen(frame: &MisfireFrame) -> String {
    let values = [
        frame.engine_rpm.map(|rpm| format!("{rpm:.0} rpm")),
        frame.load_pct.map(|load| format!("{load:.0} % load")),
        frame.speed_km_h.map(|speed| format!("{speed:.0} km/h")),
        frame
            .coolant_c
            .map(|coolant| format!("coolant {coolant:.0} °C")),
    ];
    let values: Vec<String> = values.into_iter().flatten().collect();
    match values.is_empty() {
        true => format!("The freeze frame is of {}.", frame.code),
        false => format!("{} was stored at {}.", frame.code, values.join(", ")),
    }
}

pub(super) fn standing_out(found: &StandingOut) -> String {
    let pattern = match found.pattern {
        Some(MisfirePattern::Single(_)) => {
            "; the regulation (13 CCR 1968.2) calls that a single-cylinder misfire"
        }
        Some(MisfirePattern::Multiple) => {
            "; the regulation (13 CCR 1968.2) calls that a multiple misfire"
        }
        None => "",
    };
    let chance = match found.p_value {
        ..0.001 => "less than once in 1000".to_owned(),
        p_value => format!("once in {:.0}", 1.0 / p_value),
    };
    format!(
        "Cylinder {} stands out with {} of the misfires (by chance: {chance}){pattern}.",
        found.cylinder,
        percent(found.share)
    )
}

/// The finding in one or two sentences, the injectors' acquittal first.
pub fn finding(diagnosis: &Diagnosis) -> String {
    if diagnosis.not_judged == Some(NotJudged::Diesel) {
        return "Not judged: the car says that it runs on diesel, which has no fuel trims to judge by."
            .to_owned();
    }
    let Some(first) = diagnosis.causes.first() else {
        return "Not judged.".to_owned();
    };
    let odds = percent(first.probability);
    let words = phrase(first, diagnosis.banks);
    let says_nothing = first.probability < SURE || first.cause == Cause::NoneFound;
    if diagnosis.seconds.used < LITTLE_S && says_nothing {
        return format!(
            "Too little was recorded to judge this car; by what is common alone, {words} leads with {odds}."
        );
    }
    let settled = first.probability >= SURE;
    match first.cause {
        Cause::NoneFound if settled => {
            format!("Nothing found ({odds}): the readings are those of a healthy car.")
        }
        Cause::NoneFound => format!(
            "Not settled: a healthy car leads with {odds}.{}",
            next(diagnosis)
        ),
        _ if settled => format!("{}ost probably {words} ({odds}).", acquittal(diagnosis)),
        _ => {
            let acquitted = acquittal(diagnosis);
            let not = if acquitted == "M" {
                "N"
            } else {
                "Not the injectors, but n"
            };
            format!(
                "{not}ot settled: {words} leads with {odds}.{}",
                next(diagnosis)
            )
        }
    }
}

/// Says first that it is not the injectors, when they are cleared; leaves the sentence to begin at
/// its second letter.
fn acquittal(diagnosis: &Diagnosis) -> &'static str {
    match diagnosis.clears_injectors() {
        true => "Not the injectors: m",
        false => "M",
    }
}

/// What comes second.
fn next(diagnosis: &Diagnosis) -> String {
    let second = diagnosis.causes.get(1);
    second.map_or_else(String::new, |second| {
        let (words, odds) = (phrase(second, diagnosis.banks), percent(second.probability));
        format!(" Next: {words} ({odds}).")
    })
}

fn seconds(seconds: &Seconds) -> String {
    let minutes = |s: f64| format!("{:.1} min", s / 60.0);
    let left_out = [
        ("cold", seconds.cold),
        ("open loop", seconds.open_loop),
        ("fuel cut", seconds.fuel_cut),
        ("transient", seconds.transient),
        ("stale", seconds.stale),
        ("implausible", seconds.implausible),
        ("engine off", seconds.engine_off),
        ("relearning", seconds.relearn),
    ];
    let parts: Vec<String> = left_out
        .into_iter()
        .filter(|(_, s)| *s > 0.0)
        .map(|(word, s)| format!("{word} {}", minutes(s)))
        .collect();
    let (used, total) = (minutes(seconds.used), minutes(seconds.total));
    match parts.is_empty() {
        true => format!("{used} of {total} count."),
        false => format!("{used} of {total} count; left out: {}.", parts.join(", ")),
    }
}

/// How wide the page is.
pub(super) struct Page {
    width: u16,
}

impl Page {
    /// The page that a layout asks for.
    pub(super) fn new(layout: Layout) -> Self {
        Self {
            width: layout.width.unwrap_or(USUAL_WIDTH).max(40),
        }
    }

    /// The sentence that matters most, in bold letters where they may stand.
    pub(super) fn first(&self, words: &str, layout: Layout) -> String {
        let mut text = String::new();
        self.paragraph(&mut text, words, "");
        match layout.bold {
            true => format!("{BOLD}{}{PLAIN}\n", text.trim_end()),
            false => text,
        }
    }

    /// Words in lines, each behind the indent.
    pub(super) fn paragraph(&self, text: &mut String, words: &str, indent: &str) {
        let mut line = indent.to_owned();
        for word in words.split_whitespace() {
            let full = line.chars().count() + 1 + word.chars().count() > usize::from(self.width);
            if full && line.trim() != "" {
                text.push_str(line.trim_end());
                text.push('\n');
                line = indent.to_owned();
            }
            if line.trim() != "" {
                line.push(' ');
            }
            line.push_str(word);
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }

    /// An empty line, then words.
    pub(super) fn heading(&self, text: &mut String, words: &str) {
        text.push('\n');
        self.paragraph(text, words, "");
    }

    /// A heading and indented lines; nothing without lines.
    pub(super) fn list<'a>(
        &self,
        text: &mut String,
        heading: &str,
        lines: impl Iterator<Item = &'a str>,
    ) {
        let lines: Vec<&str> = lines.collect();
        if lines.is_empty() {
            return;
        }
        self.heading(text, heading);
        for line in lines {
            self.paragraph(text, line, "  ");
        }
    }

    /// A table without lines.
    pub(super) fn table(&self, text: &mut String, headings: &[&str], rows: Vec<Vec<String>>) {
        let mut table = Table::new();
        table
            .load_preset(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(self.width.saturating_sub(1));
        table.set_header(headings.iter().copied());
        table.add_rows(rows);
        for line in table.lines() {
            // each cell brings one blank before it
            text.push(' ');
            text.push_str(line.trim_end());
            text.push('\n');
        }
    }

    fn trims(&self, text: &mut String, diagnosis: &Diagnosis) {
        if diagnosis.trims.is_empty() {
            let why = match diagnosis.not_judged {
                Some(NotJudged::TrimsAlike) => {
                    "Trims are not judged: those of all banks and terms are alike to the bit."
                }
                _ => "No correction was seen in a moment that counts.",
            };
            self.heading(text, why);
            return;
        }
        self.heading(
            text,
            "Total correction (mean and 95 % interval inside these trips; another trip of the same car wanders by \
             about ±2 points)",
        );
        let rows = diagnosis.trims.iter().map(|trim| {
            vec![
                format!("bank {}", trim.bank),
                at(trim.region).to_owned(),
                format!("{:+.1} %", trim.mean_pct),
                format!("{:+.1} to {:+.1}", trim.low_pct, trim.high_pct),
                format!("{:.0} s", trim.seconds),
            ]
        });
        self.table(text, &["", "", "mean", "interval", "time"], rows.collect());
    }

    fn misfires(&self, text: &mut String, diagnosis: &Diagnosis) {
        let misfires = &diagnosis.misfires;
        let Some(revolutions) = misfires.revolutions else {
            let named: Vec<String> = misfires
                .cylinders
                .iter()
                .map(|c| c.cylinder.to_string())
                .collect();
            let words = match named.is_empty() {
                true => "No misfire counters were read: cylinders cannot be told apart.".to_owned(),
                false => format!(
                    "No misfire counters were read; codes name misfiring cylinders: {}.",
                    named.join(", ")
                ),
            };
            self.heading(text, &words);
            return self.freeze_frame(text, misfires);
        };
        let revolutions = thousands(revolutions);
        self.heading(text, &format!("Misfires in {revolutions} revolutions"));
        let rows = misfires.cylinders.iter().filter_map(|cylinder| {
            let counted = cylinder.counted?;
            Some(vec![
                format!("cylinder {}", cylinder.cylinder),
                format!("{:.0}", counted.count),
                format!("{:.2}", counted.per_1000_rev),
                format!("{:.2} to {:.2}", counted.low, counted.high),
            ])
        });
        self.table(
            text,
            &["", "count", "per 1000 rev", "interval"],
            rows.collect(),
        );
        if let Some(found) = &misfires.standing_out {
            self.paragraph(text, &standing_out(found), "  ");
        }
        self.freeze_frame(text, misfires);
    }

    fn freeze_frame(&self, text: &mut String, misfires: &Misfires) {
        if let Some(frame) = &misfires.freeze_frame {
            self.paragraph(text, &frozen(frame), "  ");
        }
    }

    /// What the bench says, and whether it explains the corrections.
    fn bench(&self, text: &mut String, diagnosis: &Diagnosis) {
        let Some(found) = &diagnosis.bench else {
            return;
        };
        let checks = diagnosis.flow_checks.iter().map(bench::check_words);
        let lines: Vec<String> = checks.chain(found.notes.iter().cloned()).collect();
        self.list(text, "On the bench", lines.iter().map(String::as_str));
    }

    fn causes(&self, text: &mut String, diagnosis: &Diagnosis) {
        if diagnosis.causes.is_empty() {
            return;
        }
        self.heading(text, "What it may be");
        let mut rest = 0.0;
        for (index, finding) in diagnosis.causes.iter().enumerate() {
            if finding.probability < WORTH_SHOWING && index > 0 {
                rest += finding.probability;
                continue;
            }
            self.cause(text, finding, diagnosis.banks);
        }
        if rest > 0.0 {
            self.paragraph(
                text,
                &format!("{}: all others together", percent(rest)),
                "  ",
            );
        }
    }

    fn cause(&self, text: &mut String, finding: &Finding, banks: usize) {
        let mut line = format!(
            "{}: {}",
            percent(finding.probability),
            phrase(finding, banks)
        );
        if let Some(severity) = &finding.severity {
            let _ = write!(line, "; {}", size(severity));
        }
        if let Some(beside) = &finding.beside {
            let (share, other) = (percent(beside.probability), also(beside));
            let _ = write!(line, "; of these, {share} together with: {other}");
        }
        self.paragraph(text, &line, "  ");
        for piece in finding.evidence.iter().take(MOST_EVIDENCE) {
            let odds = times(piece.log_odds);
            self.paragraph(text, &format!("{odds}: {}", piece.what), "      ");
        }
    }

    /// Cautions of a step that were not told yet.
    fn cautions(&self, text: &mut String, cautions: &[Caution], told: &mut Vec<Caution>) {
        for caution in cautions {
            if !told.contains(caution) {
                told.push(*caution);
                self.paragraph(text, &format!("! {}", caution.words()), "     ");
            }
        }
    }

    fn checks(&self, text: &mut String, diagnosis: &Diagnosis, told: &mut Vec<Caution>) {
        if diagnosis.next_checks.is_empty() {
            return;
        }
        self.heading(text, "What to check next");
        let checks = diagnosis.next_checks.iter().take(MOST_CHECKS);
        for (number, next) in (1..).zip(checks) {
            let minutes = next.minutes;
            self.paragraph(
                text,
                &format!("{number}. {} ({minutes:.0} min)", next.how),
                "  ",
            );
            for outcome in next.reading.split("; ") {
                self.paragraph(text, &format!("- {outcome}"), "     ");
            }
            self.cautions(text, &next.cautions, told);
        }
    }

    fn treatment(&self, text: &mut String, diagnosis: &Diagnosis, told: &mut Vec<Caution>) {
        let nothing = diagnosis.injector_advice.is_empty();
        let healthy = |first: &Finding| first.cause == Cause::NoneFound;
        if nothing
            || diagnosis.treatment.is_empty() && diagnosis.causes.first().is_some_and(healthy)
        {
            return;
        }
        let injectors = percent(diagnosis.injector_probability());
        self.heading(text, "Treatment");
        let advice = format!("{} (Injectors: {injectors}.)", diagnosis.injector_advice);
        self.paragraph(text, &advice, "  ");
        if diagnosis.treatment.is_empty() {
            return;
        }
        let rows = diagnosis.treatment.iter().map(|action| {
            vec![
                action.how.clone(),
                format!("{:.0}", action.cost),
                format!("{:.0} min", action.minutes),
                percent(action.chance),
                format!("{:.0}", action.expected_cost),
            ]
        });
        let headings = [
            "begin with",
            "costs",
            "takes",
            "puts the car right",
            "expected until right",
        ];
        self.table(text, &headings, rows.collect());
        let vague =
            "Chances, times and prices are common practice; the vehicle file's prices overrule.";
        self.paragraph(text, vague, "  ");
        for (number, action) in (1..).zip(order(diagnosis)) {
            self.paragraph(text, &format!("{number}. {}", step(action)), "  ");
            for note in &action.notes {
                self.paragraph(text, &format!("- {note}"), "     ");
            }
            self.cautions(text, &action.cautions, told);
        }
        self.heading(text, "After the work");
        for (number, step) in (1..).zip(&diagnosis.after_treatment) {
            self.paragraph(text, &format!("{number}. {}", step.how), "  ");
            self.cautions(text, &step.cautions, told);
        }
    }
}

/// The actions in the order that costs least, up to where checking comes before more money.
pub(super) fn order(diagnosis: &Diagnosis) -> Vec<&Treatment> {
    let Some(first) = diagnosis.treatment.first() else {
        return Vec::new();
    };
    let named = |name: &String| {
        diagnosis
            .treatment
            .iter()
            .find(|other| other.action == *name)
    };
    let mut order = vec![first];
    for next in first.then.iter().filter_map(named) {
        if order.last().is_some_and(|last| last.stop_if_it_fails) {
            break;
        }
        order.push(next);
    }
    order
}

/// An action, and what its failure would say.
pub(super) fn step(action: &Treatment) -> String {
    let (how, left) = (&action.how, percent(action.injectors_if_it_fails));
    match action.stop_if_it_fails {
        true => format!(
            "{how}. If it fails stop: another cause leads then (injectors {left}); check before spending more."
        ),
        false => format!("{how}. If it fails the injectors stand at {left}."),
    }
}
