//! Bench readings taken by hand.

use maud::{Markup, html};

use super::{content::Content, section, sentences};
use crate::{
    bench::Findings,
    diagnose::Diagnosis,
    quantity::Units,
    report::bench::{COLUMNS, Column, check_words, rail_words},
};

/// Captions of the tables, for screen readers.
const TABLES: [&str; 2] = ["Windings and power", "Flow and leakage"];

pub(super) fn part(content: &Content) -> Markup {
    let words = ["Before the work", "After the work"];
    let body = html! {
        @for (word, found) in words.into_iter().zip(content.diagnoses()) {
            @if let Some((found, bench)) = found.and_then(|found| Some((found, found.bench.as_ref()?))) {
                (side(word, found, bench, content.units))
            }
        }
    };
    section("bench", "Measured by hand", &body)
}

fn side(word: &str, found: &Diagnosis, bench: &Findings, units: Units) -> Markup {
    let checks = found.flow_checks.iter().map(check_words);
    let rail = bench
        .rail
        .as_ref()
        .map(|rail| rail_words(rail, units))
        .unwrap_or_default();
    let rail = rail
        .lines()
        .filter(|line| !line.is_empty())
        .map(|line| format!("Fuel rail: {line}."));
    html! {
        h3 { (word) }
        @for (what, columns) in TABLES.into_iter().zip(COLUMNS) { (table(what, word, bench, columns)) }
        (sentences(rail.chain(checks).chain(bench.notes.iter().cloned())))
    }
}

/// A table with one row for each injector; columns without any reading are left out.
fn table(what: &str, word: &str, bench: &Findings, columns: &[Column]) -> Markup {
    let filled = |(_, cell): &&Column| bench.injectors.iter().any(|one| !cell(one).is_empty());
    let columns: Vec<&Column> = columns.iter().filter(filled).collect();
    html! {
        @if !columns.is_empty() {
            div.wide tabindex="0" role="region" aria-label={ (what) ", " (word.to_lowercase()) } {
                table {
                    thead { tr {
                        th scope="col" { "cylinder" }
                        @for (heading, _) in &columns { th scope="col" { (heading) } }
                    } }
                    tbody {
                        @for one in &bench.injectors {
                            tr {
                                th scope="row" { (one.cylinder) }
                                @for (_, cell) in &columns { td { (cell(one)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}
