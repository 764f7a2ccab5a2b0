//! Advice: what to do next, its cost, and its cautions.

use maud::{Markup, html};

use super::{content::Content, section, with_code};
use crate::{
    cause::Cause,
    caution::Caution,
    compare::Verdict,
    diagnose::{Diagnosis, diagnosis::Treatment},
    report::{
        steps::{self, MOST_CHECKS, order, step},
        warning_words,
        words::{capital, percent},
    },
};

pub(super) fn part(content: &Content) -> Markup {
    let Some(latest) = content.latest() else {
        return html! {};
    };
    let found = &latest.diagnosis;
    let healthy = found
        .causes
        .first()
        .is_some_and(|first| first.cause == Cause::NoneFound);
    let worked = !content.done.is_empty();
    let proven = content
        .comparison
        .as_ref()
        .is_none_or(|comparison| matches!(comparison.verdict, Verdict::Better | Verdict::NoChange));
    let settled = healthy && worked && content.after().is_some();
    let body = html! {
        @if settled && proven {
            p { "Nothing more needs to be done. If the complaint comes back, record the car again while it shows." }
        } @else if settled {
            p { "The car looks healthy now, but it is not proven that the work changed anything. " (missing(content)) }
        } @else {
            (checks(found))
            (treatment(found))
        }
        @if !worked || content.after().is_none() { (after_work(content)) }
        (cautions(found, settled))
    };
    section("advice", "What is advised next", &body)
}

/// Names the place on the page that explains why the finding is not proven.
fn missing(content: &Content) -> &'static str {
    let comparison = content.comparison.as_ref();
    if comparison.is_some_and(|comparison| !comparison.needed.is_empty()) {
        "“What would settle it” says what is missing."
    } else {
        "The top of the page says why."
    }
}

fn checks(found: &Diagnosis) -> Markup {
    html! {
        @if !found.next_checks.is_empty() {
            h3 { "Checks that settle the doubt soonest" }
            ol {
                @for next in found.next_checks.iter().take(MOST_CHECKS) {
                    li {
                        (capital(&next.how)) " (" (format!("{:.0}", next.minutes)) " min)"
                        ul { @for outcome in &next.outcomes { li { (capital(outcome)) } } }
                        (at_the_step(&next.cautions))
                    }
                }
            }
        }
    }
}

fn treatment(found: &Diagnosis) -> Markup {
    html! {
        @if let Some(advice) = found.injector_advice {
            h3 { "Treatment of the injectors" }
            p {
                (warning_words::advice(advice)) " Probability that the injectors are the cause: "
                (percent(found.injector_probability())) "."
            }
        }
        @if !found.treatment.is_empty() {
            (costs(&found.treatment))
            ol { @for action in order(found) {
                li {
                    (capital(&step(action)))
                    @if !action.notes.is_empty() { ul { @for note in &action.notes { li { (with_code(note)) } } } }
                    (at_the_step(&action.cautions))
                }
            } }
        }
    }
}

fn costs(treatment: &[Treatment]) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="Ways to treat the injectors" {
            table {
                thead { tr {
                    th scope="col" { "begin with" }
                    th scope="col" { "costs" }
                    th scope="col" { "takes" }
                    th scope="col" { "fixes the car" }
                    th scope="col" { "expected cost until fixed" }
                } }
                tbody { @for action in treatment {
                    tr {
                        th.name scope="row" { (capital(&action.how)) }
                        td { (format!("{:.0}", action.cost)) }
                        td { (format!("{:.0}\u{a0}min", action.minutes)) }
                        td { (percent(action.chance)) }
                        td { (format!("{:.0}", action.expected_cost)) }
                    }
                } }
            }
        }
        p.note { "Chances and times are common practice, prices too unless the workshop has given its own." }
    }
}

fn after_work(content: &Content) -> Markup {
    let steps = content
        .before()
        .map(|before| before.diagnosis.after_treatment.as_slice())
        .unwrap_or_default();
    html! {
        @if !steps.is_empty() {
            h3 { "After the work" }
            ol { @for step in steps { li { (with_code(&capital(&step.how))) (at_the_step(&step.cautions)) } } }
        }
    }
}

/// The cautions of a step, in one line.
fn at_the_step(cautions: &[Caution]) -> Markup {
    html! { @if let Some(line) = Caution::line(cautions) { p.caution { (line) } } }
}

/// Each caution once in full: of the state found and of the steps named on the page.
fn cautions(found: &Diagnosis, settled: bool) -> Markup {
    let mut cautions = if settled {
        Vec::new()
    } else {
        steps::cautions(found)
    };
    if !cautions.contains(&Caution::ServiceInformation) {
        cautions.push(Caution::ServiceInformation);
    }
    html! {
        h3 { "Cautions" }
        ul { @for caution in cautions { li { (caution.words()) } } }
    }
}
