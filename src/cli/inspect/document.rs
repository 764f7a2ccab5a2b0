//! An inspection as JSON. Times are seconds since the recording started, values in each item's own unit.

use std::path::Path;

use pintle_protocol::Item;
use serde::Serialize;

use super::Inspection;
use crate::{
    capture::{Damage, Header, Kept, RowCounts, Tally},
    quantity,
    series::summary::{Dropped, Seconds},
};

#[derive(Serialize)]
pub(super) struct Document<'a> {
    schema: &'static str,
    capture: String,
    header: &'a Header,
    car: CarEntry<'a>,
    length_s: f64,
    rows: RowCounts,
    items: Vec<ItemEntry<'a>>,
    other_answers: Vec<OtherEntry<'a>>,
    unanswered: Vec<UnansweredEntry<'a>>,
    seconds: Seconds,
    dropped: &'a [Dropped],
    gaps: List<GapEntry>,
    marks: List<NoteEntry<'a>>,
    link: List<NoteEntry<'a>>,
    damage: &'a Damage,
}

#[derive(Serialize)]
struct CarEntry<'a> {
    vin: Option<&'a str>,
    calibrations: &'a [String],
    misfire_counters: u8,
}

#[derive(Serialize)]
struct ItemEntry<'a> {
    ecu: &'a str,
    request: String,
    name: Option<String>,
    unit: Option<&'static str>,
    readings: u64,
    per_second: Option<f64>,
    first_s: f64,
    last_s: f64,
    first: f64,
    last: f64,
    /// What the first value stands for, where it is a code.
    first_means: Option<String>,
    last_means: Option<String>,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct OtherEntry<'a> {
    ecu: &'a str,
    request: &'a str,
    answers: u64,
}

#[derive(Serialize)]
struct UnansweredEntry<'a> {
    ecu: &'a str,
    request: &'a str,
    reason: &'a str,
    times: u64,
}

#[derive(Serialize)]
struct GapEntry {
    from_s: f64,
    to_s: f64,
}

#[derive(Serialize)]
struct NoteEntry<'a> {
    t_s: f64,
    text: &'a str,
}

/// All are counted, the first thousand listed.
#[derive(Serialize)]
struct List<T> {
    count: u64,
    first: Vec<T>,
}

pub(super) fn of<'a>(inspection: &'a Inspection, path: &Path) -> Document<'a> {
    let contents = &inspection.contents;
    let others = contents.other_answers.iter();
    let unanswered = contents.unanswered.iter();
    Document {
        schema: "pintle.inspection/1",
        capture: path.display().to_string(),
        header: &contents.header,
        car: CarEntry {
            vin: inspection.car.vin.as_deref(),
            calibrations: &inspection.car.calibrations,
            misfire_counters: inspection.car.misfire_counters().highest(),
        },
        length_s: seconds(contents.last_us),
        rows: contents.rows,
        items: contents.items.iter().map(item).collect(),
        other_answers: others
            .map(|((ecu, request), answers)| OtherEntry {
                ecu,
                request,
                answers: *answers,
            })
            .collect(),
        unanswered: unanswered
            .map(|((ecu, request, reason), times)| UnansweredEntry {
                ecu,
                request,
                reason,
                times: *times,
            })
            .collect(),
        seconds: inspection.seconds,
        dropped: &inspection.dropped,
        gaps: list(&contents.gaps, |(from, to)| GapEntry {
            from_s: seconds(*from),
            to_s: seconds(*to),
        }),
        marks: list(&contents.marks, note),
        link: list(&contents.links, note),
        damage: &contents.damage,
    }
}

fn item<'a>(((ecu, item), tally): (&'a (String, Item), &'a Tally)) -> ItemEntry<'a> {
    ItemEntry {
        ecu,
        request: item.to_string(),
        name: quantity::name(*item),
        unit: quantity::unit(*item).map(|unit| unit.symbol()),
        readings: tally.readings,
        per_second: tally.per_second(),
        first_s: seconds(tally.first_us),
        last_s: seconds(tally.last_us),
        first: tally.first,
        last: tally.last,
        first_means: quantity::text(*item, tally.first),
        last_means: quantity::text(*item, tally.last),
        low: tally.low,
        high: tally.high,
    }
}

fn note((t_us, text): &(u64, String)) -> NoteEntry<'_> {
    NoteEntry {
        t_s: seconds(*t_us),
        text,
    }
}

fn list<'a, S, T>(kept: &'a Kept<S>, entry: impl Fn(&'a S) -> T) -> List<T> {
    List {
        count: kept.count,
        first: kept.first.iter().map(entry).collect(),
    }
}

fn seconds(t_us: u64) -> f64 {
    t_us as f64 / 1e6
}
