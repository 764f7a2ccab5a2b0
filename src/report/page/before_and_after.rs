//! What the work changed, compared with the normal variation of an unchanged car.

use maud::{Markup, html};

use super::{charts, content::Content, section, sentences};
use crate::{
    compare::{Comparison, MisfireChange, Verdict},
    report::{
        chart,
        comparison::{interval, need, spread, times},
        words::rate,
    },
};

pub(super) fn part(content: &Content) -> Markup {
    let Some(comparison) = &content.comparison else {
        return html! {};
    };
    let drawn = [
        chart::changes::chart(comparison),
        chart::cells::chart(comparison),
    ];
    let drawn: Vec<Markup> = drawn.into_iter().flatten().collect();
    let body = html! {
        @if drawn.is_empty() {
            p { "No engine speed and load was held long enough in both recordings: fuel trim cannot be compared." }
        } @else {
            (charts(&drawn))
            p.note { (spread(comparison)) }
        }
        (misfires(comparison))
        @if !comparison.needed.is_empty() {
            h3 { "What would settle it" }
            (sentences(comparison.needed.iter().map(need)))
        }
    };
    section("before-and-after", "Before and after", &body)
}

fn misfires(comparison: &Comparison) -> Markup {
    html! {
        @if !comparison.misfires.is_empty() {
            h3 { "Misfires per 1000 revolutions, in driving conditions common to both recordings" }
            div.wide tabindex="0" role="region" aria-label="Misfires before and after" {
                table {
                    thead { tr {
                        th scope="col" { "cylinder" }
                        th scope="col" { "before" }
                        th scope="col" { "after" }
                        th scope="col" { "after ÷ before" }
                        th scope="col" { "result" }
                    } }
                    tbody { @for one in &comparison.misfires { (misfire(one)) } }
                }
            }
        }
    }
}

fn misfire(one: &MisfireChange) -> Markup {
    html! {
        tr {
            th scope="row" { (one.cylinder) }
            td { (rate(one.before_per_1000_rev)) }
            td { (rate(one.after_per_1000_rev)) }
            td { (ratio(one)) }
            td { (words(one.verdict)) }
        }
    }
}

fn ratio(one: &MisfireChange) -> String {
    if !one.tells_a_ratio() {
        return "–".to_owned();
    }
    let ratio = one.rate_ratio.map_or_else(|| "–".to_owned(), times);
    format!("{ratio} ({})", interval(one))
}

const fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Better => "better",
        Verdict::NoChange => "too small to matter",
        Verdict::Worse => "worse",
        Verdict::CannotTell => "cannot tell",
    }
}
