//! The pictures.

use maud::Markup;

use super::{
    charts,
    content::{Content, Trip},
    section,
};
use crate::report::chart::{self, timeline};

/// Largest number of trips drawn on each side: the longest ones (assumed).
const MOST_TRIPS: usize = 2;

pub(super) fn part(content: &Content) -> Markup {
    let sides = content.diagnoses();
    let flow = sides
        .into_iter()
        .flatten()
        .rev()
        .find_map(|found| chart::flow::chart(found.bench.as_ref()?));
    let figures: Vec<Markup> = [
        chart::fuel_trims::chart(sides),
        chart::misfires::chart(sides, content.comparison.as_ref()),
        flow,
    ]
    .into_iter()
    .flatten()
    .chain(courses(content))
    .collect();
    let body = charts(&figures);
    section("pictures", "What was measured", &body)
}

/// Charts of the longest trips of both sides, on one scale.
fn courses(content: &Content) -> Vec<Markup> {
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
    let figure = |(word, number, trip): (&str, usize, &Trip)| {
        let day = trip
            .day
            .as_ref()
            .map(|day| format!(", {day}"))
            .unwrap_or_default();
        let title = format!("The drive {word} the work{day}");
        timeline::chart(
            &format!("course-{word}-{number}"),
            &title,
            &trip.course,
            &in_common,
        )
    };
    trips.into_iter().filter_map(figure).collect()
}
