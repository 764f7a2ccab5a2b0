//! The pictures.

use maud::{Markup, html};

use super::{
    content::{Content, Trip},
    section,
};
use crate::report::chart::{self, timeline};

/// Trips drawn on each side: the longest ones; more would only repeat them.
const MOST_TRIPS: usize = 2;

pub(super) fn part(content: &Content) -> Markup {
    let sides = content.diagnoses();
    let flow = sides
        .into_iter()
        .flatten()
        .rev()
        .find_map(|found| chart::flow::chart(found.bench.as_ref()?));
    let body = html! {
        @if let Some(figure) = chart::corrections::chart(sides) { (figure) }
        @if let Some(figure) = chart::misfires::chart(sides) { (figure) }
        @if let Some(figure) = flow { (figure) }
        (courses(content))
    };
    section("pictures", "What was measured", &body)
}

/// The longest trips of both sides, all on one scale.
fn courses(content: &Content) -> Markup {
    let sides = [("before", content.before()), ("after", content.after())];
    let trips: Vec<(&str, usize, &Trip)> = sides
        .into_iter()
        .filter_map(|(word, side)| Some((word, side?)))
        .flat_map(|(word, side)| {
            let mut trips: Vec<&Trip> = side.trips.iter().collect();
            trips.sort_by(|a, b| b.seconds.used.total_cmp(&a.seconds.used));
            let numbered = (1..).zip(trips).take(MOST_TRIPS);
            numbered.map(move |(number, trip)| (word, number, trip))
        })
        .collect();
    let in_common: Vec<f64> = trips
        .iter()
        .flat_map(|(_, _, trip)| timeline::usual_pct(&trip.course))
        .collect();
    html! {
        @for (word, number, trip) in trips {
            @let day = trip.day.as_ref().map(|day| format!(", {day}")).unwrap_or_default();
            @let title = format!("The drive {word} the work{day}");
            @let id = format!("course-{word}-{number}");
            @if let Some(figure) = timeline::chart(&id, &title, &trip.course, &in_common) { (figure) }
        }
    }
}
