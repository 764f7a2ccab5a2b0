//! The page for the customer: one HTML file with everything inside, no script, nothing fetched from outside; one file
//! for each part.
//!
//! Every text goes through the template library, which escapes it; what cannot be shown is replaced at the end.

mod advice;
mod before_and_after;
mod bench;
pub mod content;
mod evidence;
mod in_short;
mod pictures;
mod sources;
mod unknown;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use content::Content;

use crate::printable;

/// Style sheet of the page; our own text, so it is not escaped.
const STYLE: &str = include_str!("page.css");
/// Content security policy: nothing is fetched or run, whatever the texts hold.
const NOTHING_FROM_OUTSIDE: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// The whole page.
pub fn render(content: &Content) -> String {
    let title = format!("Report on {}", vehicle(content));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(NOTHING_FROM_OUTSIDE);
                meta name="viewport" content="width=device-width, initial-scale=1";
                link rel="icon" href="data:,";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    (in_short::part(content, &title))
                    (before_and_after::part(content))
                    (pictures::part(content))
                    (evidence::part(content))
                    (bench::part(content))
                    (advice::part(content))
                    (unknown::part(content))
                    (sources::part(content))
                }
            }
        }
    };
    // a number and its sign stay on one line
    let page = page.into_string().replace(" %", "\u{a0}%");
    printable::text(&page).into_owned()
}

/// Name of the vehicle.
fn vehicle(content: &Content) -> &str {
    content
        .visit
        .vehicle
        .label
        .as_deref()
        .unwrap_or("the vehicle")
}

/// A part of the page under its heading; nothing when it holds nothing.
fn section(id: &str, heading: &str, body: &Markup) -> Markup {
    html! {
        @if !body.0.is_empty() {
            section id=(id) aria-labelledby={ (id) "-heading" } {
                h2 id={ (id) "-heading" } { (heading) }
                (body)
            }
        }
    }
}

/// Charts one below the other, on paper two in a row; nothing when there are none.
fn charts(figures: &[Markup]) -> Markup {
    html! {
        @if !figures.is_empty() {
            div.charts { @for figure in figures { (figure) } }
        }
    }
}

/// A sentence with the text between backquotes marked as code.
fn with_code(sentence: &str) -> Markup {
    html! {
        @for (index, part) in sentence.split('`').enumerate() {
            @if index % 2 == 0 { (part) } @else { code { (part) } }
        }
    }
}

/// A list of sentences; nothing when there are none.
fn sentences<T: AsRef<str>>(all: impl IntoIterator<Item = T>) -> Markup {
    let all: Vec<T> = all.into_iter().collect();
    html! {
        @if !all.is_empty() {
            ul { @for one in &all { li { (with_code(one.as_ref())) } } }
        }
    }
}
