//! A diagnosis as a technician reads it on a terminal: the finding first, then what it rests on,
//! then what to do.

use std::fmt::Write;

use crate::{
    cause::Cause,
    caution::Caution,
    diagnose::{
        Diagnosis,
        diagnosis::{Finding, Misfires, StandingOut},
        thousands,
    },
    quantity::signed,
    series::{
        misfire_frame::MisfireFrame,
        summary::{NotJudged, Seconds},
    },
    statistics::poisson::MisfirePattern,
};

use super::{
    bench,
    terminal_page::{Page, Text},
    words::{also, percent, phrase, size, times},
};

/// Causes below this are left to the machine-readable form.
const WORTH_SHOWING: f64 = 0.02;
/// Evidence shown for a cause.
const MOST_EVIDENCE: usize = 3;
/// A cause leads for sure from this probability on.
const SURE: f64 = 0.5;
/// With fewer seconds that count nothing is said of this car.
const LITTLE_S: f64 = 60.0;
/// Less is not worth telling: it would read 0.0 min.
const LEAST_LEFT_OUT_S: f64 = 3.0;

/// The whole text.
pub fn render(diagnosis: &Diagnosis, width: Option<u16>) -> Text {
    let page = Page::new(width);
    let mut text = String::new();
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
    page.text(&finding(diagnosis), text)
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
            "Too little was recorded to judge this car; so far, {words} leads with {odds}."
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
        .filter(|(_, s)| *s >= LEAST_LEFT_OUT_S)
        .map(|(word, s)| format!("{word} {}", minutes(s)))
        .collect();
    let (used, total) = (minutes(seconds.used), minutes(seconds.total));
    match parts.is_empty() {
        true => format!("{used} of {total} count."),
        false => format!("{used} of {total} count; left out: {}.", parts.join(", ")),
    }
}

impl Page {
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
                trim.region.at().to_owned(),
                format!("{} %", signed(trim.mean_pct)),
                format!("{} to {}", signed(trim.low_pct), signed(trim.high_pct)),
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
        if revolutions <= 0.0 {
            let words = "The misfire counters were read, but over no revolutions that count.";
            self.heading(text, words);
            return self.freeze_frame(text, misfires);
        }
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
}
