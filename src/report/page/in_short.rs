//! The top of the page: vehicle, complaint, finding, work and outcome, each in a sentence.

use maud::{Markup, html};

use super::content::Content;
use crate::{
    caution::Caution,
    job::Work,
    quantity::Units,
    report::{
        comparison, text,
        words::{capital, inside},
    },
};

/// Kilometres of the international mile (NIST SP 811, appendix B).
const KM_PER_MILE: f64 = 1.609_344;

pub(super) fn part(content: &Content, title: &str) -> Markup {
    let visit = &content.visit;
    html! {
        header {
            h1 { (title) }
            p.facts { (facts(content)) }
            @if let Some(complaint) = &visit.complaint {
                p { "Complaint: " q { (complaint) } }
            }
        }
        section #in-short aria-label="In short" {
            (danger(content))
            @for doubt in &content.doubts {
                p.danger { strong { "Note: " } (doubt) }
            }
            dl.short {
                dt { "Found" }
                dd { (found(content)) }
                dt { "Done" }
                dd { (done(content)) }
                dt { "Outcome" }
                dd { (outcome(content)) }
            }
        }
    }
}

fn facts(content: &Content) -> String {
    let vehicle = &content.visit.vehicle;
    let odometer = content.visit.odometer_km.map(|km| match content.units {
        Units::Metric => format!("{km:.0} km on the odometer"),
        Units::Us => format!("{:.0} miles on the odometer", km / KM_PER_MILE),
    });
    let parts = [
        vehicle
            .displacement_l
            .map(|litres| format!("{litres:.1} litres")),
        vehicle
            .cylinder_count()
            .map(|count| format!("{count} cylinders")),
        odometer,
        Some(format!("written on {}", content.written)),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    parts.join(" · ")
}

/// The urgent warning, which comes first.
fn danger(content: &Content) -> Markup {
    let heavy = content
        .latest()
        .is_some_and(|measured| measured.diagnosis.misfires.is_heavy());
    html! {
        @if heavy {
            p.danger { strong { "Stop: " } (Caution::Catalyst.words()) }
        }
    }
}

/// Probability from which the meaning of the leading cause is explained (assumed).
const WORTH_EXPLAINING: f64 = 0.5;

fn found(content: &Content) -> String {
    let Some(before) = content.before() else {
        return "Nothing was recorded before the work.".to_owned();
    };
    // a customer meets the sensor here first
    let finding = text::finding(&before.diagnosis);
    let finding = finding.replacen("MAF sensor", "air flow sensor (MAF)", 1);
    match before.diagnosis.causes.first() {
        Some(first) if first.probability >= WORTH_EXPLAINING => {
            format!("{finding} {}", first.cause.meaning())
        }
        _ => finding,
    }
}

fn done(content: &Content) -> String {
    let named = |works: &[Work]| {
        let each: Vec<String> = works.iter().map(work).collect();
        capital(&each.join("; "))
    };
    match (content.done.as_slice(), content.chosen.last()) {
        ([], None) => "Nothing yet.".to_owned(),
        ([], Some(chosen)) => format!("Nothing yet; planned: {}.", work(chosen)),
        (done, _) => format!("{}.", named(done)),
    }
}

/// A piece of work with what it costs.
fn work(work: &Work) -> String {
    let what = work.what.trim_end_matches('.');
    match work.cost {
        Some(cost) => format!("{what} (cost: {cost:.2})"),
        None => what.to_owned(),
    }
}

fn outcome(content: &Content) -> Markup {
    html! {
        @match (&content.comparison, content.after()) {
            (Some(comparison), _) => { strong { (comparison::sentence(comparison)) } }
            (None, Some(_)) => { "Not known: nothing was recorded before the work to compare with." }
            (None, None) if content.done.is_empty() => { "No work has been done yet." }
            (None, None) => {
                "Not known yet: the car was not recorded again after the work. Only a second recording of the same \
                 driving shows whether it helped."
            }
        }
        @if let Some(after) = content.after() {
            " The car now: " (inside(&text::finding(&after.diagnosis)))
        }
    }
}
