//! Evidence of the finding: every explanation worth naming, with what speaks for and against it.

use maud::{Markup, html};

use super::{content::Content, section};
use crate::{
    diagnose::{Diagnosis, diagnosis::Finding},
    report::{
        chart,
        evidence_words::evidence_lines,
        text::{frozen, standing_out},
        words::{self, also, capital, percent, phrase, size, strength},
    },
};

/// Probability below which an explanation is not discussed (assumed).
const WORTH_ARGUING: f64 = 0.02;
/// Largest number of explanations discussed (assumed).
const MOST: usize = 4;
/// Largest number of pieces of evidence for each cause (assumed).
const MOST_EVIDENCE: usize = 4;

pub(super) fn part(content: &Content) -> Markup {
    // evidence of the finding at the top of the page
    let Some(measured) = content.before().or_else(|| content.after()) else {
        return html! {};
    };
    let found = &measured.diagnosis;
    let body = html! {
        @if let Some(figure) = chart::causes::chart(found) { (figure) }
        @for (place, finding) in found.causes.iter().take(MOST).enumerate() {
            @if place == 0 || finding.probability >= WORTH_ARGUING { (cause(finding, found.banks)) }
        }
        (misfires(found))
        (codes(found))
    };
    section("evidence", "What the finding rests on", &body)
}

fn cause(finding: &Finding, banks: usize) -> Markup {
    html! {
        h3 { (capital(&phrase(finding, banks))) ", " (percent(finding.probability)) }
        @if let Some(severity) = &finding.severity { p { "If so: " (size(severity)) "." } }
        @if let Some(second_cause) = &finding.second_cause {
            p { "This includes " (percent(second_cause.probability)) " with a second fault: " (also(second_cause)) "." }
        }
        @if !finding.evidence.is_empty() {
            ul {
                @for piece in evidence_lines(finding).take(MOST_EVIDENCE) {
                    li { (capital(&piece.what)) " (" (strength(piece.log_odds)) ")" }
                }
            }
        }
    }
}

fn misfires(found: &Diagnosis) -> Markup {
    let misfires = &found.misfires;
    html! {
        @if let Some(one) = &misfires.standing_out { p { (standing_out(one)) } }
        @if let Some(frame) = &misfires.freeze_frame { p { (frozen(frame)) } }
    }
}

fn codes(found: &Diagnosis) -> Markup {
    html! {
        @if !found.codes.is_empty() { p { "Trouble codes found: " (words::codes(&found.codes)) "." } }
    }
}
