//! Where the numbers come from, and what the words mean.

use maud::{Markup, html};

use super::{
    content::{Content, Trip},
    section,
};

pub(super) fn part(content: &Content) -> Markup {
    let sides = [("before", content.before()), ("after", content.after())];
    let trips: Vec<(&str, &Trip)> = sides
        .into_iter()
        .flat_map(|(word, side)| {
            side.into_iter()
                .flat_map(move |side| side.trips.iter().map(move |trip| (word, trip)))
        })
        .collect();
    let body = html! {
        @if !trips.is_empty() { (captures(&trips)) }
        dl.words {
            dt { "Total fuel trim" }
            dd { "How much fuel the engine computer adds or takes away, short and long term fuel trim together." }
            dt { "Bank" }
            dd { "A row of cylinders with an oxygen sensor of its own." }
            dt { "MAF sensor" }
            dd { "The air flow sensor: it measures how much air the engine takes in." }
            dt { "Interval" }
            dd { "The true value lies in it with 95 % certainty, as far as these drives can tell." }
            dt { "Warm idle, 2500 rpm, light cruise, under load" }
            dd { "Idling warm; at a standstill with about 2500 rpm and no load; driving gently; pulling hard." }
        }
        p.note { "Written by pintle " (env!("CARGO_PKG_VERSION")) " from the readings of the car's own diagnostic port." }
    };
    section("sources", "Where the numbers come from", &body)
}

fn captures(trips: &[(&str, &Trip)]) -> Markup {
    let minutes = |seconds: f64| format!("{:.1}\u{a0}min", seconds / 60.0);
    html! {
        div.wide tabindex="0" role="region" aria-label="Recordings" {
            table {
                thead { tr {
                    th scope="col" { "recording" }
                    th scope="col" { "side" }
                    th scope="col" { "day" }
                    th scope="col" { "length" }
                    th scope="col" { "usable" }
                } }
                tbody { @for (word, trip) in trips {
                    tr {
                        th.name scope="row" { (trip.name) }
                        td { (word) }
                        td { (trip.day.as_deref().unwrap_or("not known")) }
                        td { (minutes(trip.seconds.total)) }
                        td { (minutes(trip.seconds.used)) }
                    }
                } }
            }
        }
    }
}
