//! A diagnosis as a technician reads it on a terminal: the finding first, then its evidence, then what to do.

use std::fmt::Write;

use crate::{
    cause::Cause,
    caution::Caution,
    diagnose::{
        Diagnosis,
        diagnosis::{Finding, Misfires, StandingOut},
    },
    quantity::signed,
    series::{gather::misfire_frame::MisfireFrame, summary::Seconds, warning::NotJudged},
    statistics::poisson::MisfirePattern,
};

use super::{
    bench,
    evidence_words::evidence_lines,
    steps,
    terminal_page::{Page, Text},
    warning_words,
    words::{also, percent, phrase, rate, ratio, size, thousands},
};

/// Probability below which causes appear only in the machine-readable form (assumed).
const WORTH_SHOWING: f64 = 0.02;
/// Largest number of pieces of evidence shown for each cause (assumed).
const MOST_EVIDENCE: usize = 3;
/// Probability from which a cause leads with certainty (assumed: more probable than all others together).
const SURE: f64 = 0.5;
/// Seconds of usable fuel trim below which no statement is made about this car (assumed).
const LITTLE_S: f64 = 60.0;
/// Seconds below which a reason for leaving seconds out is not shown: they would read 0.0 min.
const LEAST_LEFT_OUT_S: f64 = 3.0;

/// The whole text.
pub fn render(diagnosis: &Diagnosis, width: Option<u16>) -> Text {
    let page = Page::new(width);
    let mut text = String::new();
    if diagnosis.misfires.is_heavy() {
        page.paragraph(&mut text, Caution::Catalyst.words(), "");
    }
    page.paragraph(&mut text, &seconds(&diagnosis.seconds), "");
    page.trims(&mut text, diagnosis);
    page.misfires(&mut text, diagnosis);
    page.bench(&mut text, diagnosis);
    page.causes(&mut text, diagnosis);
    page.checks(&mut text, diagnosis);
    page.treatment(&mut text, diagnosis);
    let cautions = steps::cautions(diagnosis);
    let cautions = cautions.iter().map(|caution| caution.words());
    page.list(&mut text, "Cautions", cautions);
    let warnings: Vec<String> = diagnosis
        .warnings
        .iter()
        .map(warning_words::words)
        .collect();
    page.list(&mut text, "Note", warnings.iter().map(String::as_str));
    page.text(&finding(diagnosis), text)
}

/// Engine state when a misfire code was stored, in words.
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
    if values.is_empty() {
        format!("The freeze frame belongs to {}.", frame.code)
    } else {
        format!("{} was stored at {}.", frame.code, values.join(", "))
    }
}

pub(super) fn standing_out(found: &StandingOut) -> String {
    let pattern = match found.pattern {
        Some(MisfirePattern::Single(_)) => {
            "; by regulation (13 CCR 1968.2) that is a single-cylinder misfire"
        }
        Some(MisfirePattern::Multiple) => {
            "; by regulation (13 CCR 1968.2) that is a multiple-cylinder misfire"
        }
        None => "",
    };
    let chance = match found.p_value {
        ..0.001 => "less than once in 1000".to_owned(),
        p_value => format!("once in {:.0}", 1.0 / p_value),
    };
    format!(
        "Cylinder {} stands out with {} of the misfires (by chance {chance}){pattern}.",
        found.cylinder,
        percent(found.share)
    )
}

/// The finding in one or two sentences; first that the injectors are cleared, where they are.
pub fn finding(diagnosis: &Diagnosis) -> String {
    if diagnosis.not_judged == Some(NotJudged::Diesel) {
        return "Not judged: the car reports that it runs on diesel, which has no fuel trims."
            .to_owned();
    }
    let Some(first) = diagnosis.causes.first() else {
        return "Not judged.".to_owned();
    };
    let odds = percent(first.probability);
    let words = phrase(first, diagnosis.banks);
    let settled = first.probability >= SURE;
    let says_nothing = !settled || first.cause == Cause::NoneFound;
    if diagnosis.seconds.used < LITTLE_S && says_nothing {
        return format!(
            "Too little was recorded to judge this car. So far most probable: {words} ({odds})."
        );
    }
    let injectors = if diagnosis.clears_injectors() {
        "Not the injectors"
    } else {
        ""
    };
    match (first.cause, settled, injectors) {
        (Cause::NoneFound, true, _) => format!("No fault found ({odds}): readings look normal."),
        (Cause::NoneFound, false, _) => {
            format!(
                "Not settled. Most probable: no fault ({odds}).{}",
                next(diagnosis)
            )
        }
        (_, true, "") => format!("Most probable cause: {words} ({odds})."),
        (_, true, not) => format!("{not}. Most probable cause: {words} ({odds})."),
        (_, false, "") => format!(
            "Not settled. Most probable cause: {words} ({odds}).{}",
            next(diagnosis)
        ),
        (_, false, not) => format!(
            "{not}, but not settled. Most probable cause: {words} ({odds}).{}",
            next(diagnosis)
        ),
    }
}

/// The second most probable cause, in words.
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
        ("speed or load changing", seconds.transient),
        ("readings too old", seconds.stale),
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
    if parts.is_empty() {
        format!("{used} of {total} are usable.")
    } else {
        format!(
            "{used} of {total} are usable; left out: {}.",
            parts.join(", ")
        )
    }
}

impl Page {
    fn trims(&self, text: &mut String, diagnosis: &Diagnosis) {
        if diagnosis.trims.is_empty() {
            let why = match diagnosis.not_judged {
                Some(NotJudged::TrimsAlike) => {
                    "Fuel trims are not judged: all of them are exactly the same."
                }
                _ => "No fuel trim was recorded in usable conditions.",
            };
            self.heading(text, why);
            return;
        }
        self.heading(
            text,
            "Total fuel trim (mean and 95 % interval within these trips; another trip of the same car differs by \
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
            let words = if named.is_empty() {
                "No misfire counters were read: the cylinders cannot be told apart.".to_owned()
            } else {
                format!(
                    "No misfire counters were read; codes name these misfiring cylinders: {}.",
                    named.join(", ")
                )
            };
            self.heading(text, &words);
            return self.freeze_frame(text, misfires);
        };
        if revolutions <= 0.0 {
            let words =
                "The misfire counters were read, but no engine revolutions between two readings.";
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
                rate(counted.per_1000_rev),
                format!("{} to {}", rate(counted.low), rate(counted.high)),
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

    /// Findings of the bench, and whether they explain the fuel trims.
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
        self.heading(text, "Possible causes");
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
        if let Some(second_cause) = &finding.second_cause {
            let (share, other) = (percent(second_cause.probability), also(second_cause));
            let _ = write!(line, "; including {share} with a second fault: {other}");
        }
        self.paragraph(text, &line, "  ");
        for piece in evidence_lines(finding).take(MOST_EVIDENCE) {
            let ratio = ratio(piece.log_odds);
            self.paragraph(text, &format!("{ratio}: {}", piece.what), "      ");
        }
    }
}
