//! Evidence on refuelling from one capture to the next, by fuel gauge, counted minutes and counted kilometres.
//!
//! The amount added is the rise of the gauge plus the fuel burnt meanwhile. The gauge gives the first within its swing;
//! the engine's running time or the distance since codes were cleared bounds the second on both sides.

use crate::series::summary::{Facts, Summary};

/// Largest swing of the gauge between two readings at a standstill, points: more means a different level (the recorded
/// trips of one car swing by 3 at a standstill, and by 20 in bends).
pub const SWING: f64 = 8.0;
/// Least and greatest mean consumption of a petrol car, points of its tank per minute: 0.9 and 15 L/h from 50 L
/// (assumed; the measured car burnt 0.1 to 0.3).
const PER_MINUTE: [f64; 2] = [0.03, 0.5];
/// Least and greatest mean consumption of a petrol car, points of its tank per kilometre: 2.5 and 20 L/100 km from 50 L
/// (assumed).
const PER_KM: [f64; 2] = [0.05, 0.4];

/// Captures in the order in which they were recorded, as far as it is known.
pub fn in_order(side: &[Summary]) -> Vec<&Summary> {
    let mut all: Vec<&Summary> = side.iter().collect();
    all.sort_by_key(|summary| summary.facts.started);
    all
}

/// Whether the car was surely refuelled from the end of a capture to the start of a later one.
pub fn was_refuelled(earlier: &Summary, later: &Summary) -> bool {
    let Some(risen) = risen(&earlier.facts, &later.facts) else {
        return false;
    };
    let [minutes, km] = since(earlier, &later.facts).map(|since| {
        // less than before: codes were cleared in between, and at least what is counted was driven since
        since.map(|(more, counted)| if more < 0.0 { counted } else { more })
    });
    let burnt = |used: Option<f64>, [least, _]: [f64; 2]| used.unwrap_or(0.0) * least;
    risen + burnt(minutes, PER_MINUTE).max(burnt(km, PER_KM)) >= SWING
}

/// The most that can have been added from the end of a capture to the start of a later one, besides the gauge's swing,
/// points; `None` where nothing bounds it.
pub fn most_added(earlier: &Summary, later: &Summary) -> Option<f64> {
    let risen = risen(&earlier.facts, &later.facts)?;
    let [minutes, km] = since(earlier, &later.facts).map(|since| {
        // less than before: how far the car was driven until codes were cleared is not known
        since.map(|(more, _)| more).filter(|more| *more >= 0.0)
    });
    let burnt = |used: Option<f64>, [_, most]: [f64; 2]| used.map(|used| used * most);
    let burnt = [burnt(minutes, PER_MINUTE), burnt(km, PER_KM)];
    Some(risen.max(0.0) + burnt.into_iter().flatten().reduce(f64::min)?)
}

/// Rise of the gauge from the end of one capture to the start of a later one, points; `None` where it was not read in
/// both.
pub fn risen(earlier: &Facts, later: &Facts) -> Option<f64> {
    let (_, end) = earlier.fuel_level_pct?;
    let (start, _) = later.fuel_level_pct?;
    Some(start - end)
}

/// Engine minutes from the end of a capture, and kilometres from its start, to the start of a later one, each with the
/// count since codes were cleared; below 0 where codes were cleared in between.
fn since(earlier: &Summary, later: &Facts) -> [Option<(f64, f64)>; 2] {
    let more = |before: Option<f64>, after: Option<f64>| Some((after? - before?, after?));
    let facts = &earlier.facts;
    let minutes = more(facts.minutes_since_clear, later.minutes_since_clear);
    let recorded = earlier.seconds.total / 60.0;
    [
        minutes.map(|(more, counted)| {
            if more < 0.0 {
                (more, counted)
            } else {
                ((more - recorded).max(0.0), counted)
            }
        }),
        more(facts.km_since_clear, later.km_since_clear),
    ]
}
