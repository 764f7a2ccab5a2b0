//! What the fuel gauge, the counted minutes and the counted kilometres tell of the tank from one capture to the next.
//!
//! What was filled in is what the gauge rose by and what was burnt meanwhile. The gauge tells the first to within its
//! swing; the engine's running time or the distance since codes were cleared bounds the second on both sides.

use crate::series::summary::{Facts, Summary};

/// The gauge swings by no more than this between two readings at a stand, points: more is another level (the real logs
/// of one car swing by 3 at a stand, and by 20 in bends).
pub const SWING: f64 = 8.0;
/// No petrol car burns more or less on average, points of its tank for each minute (15 and 0.9 L/h from 50 L; the measured car
/// burnt 0.1 to 0.3) …
const PER_MINUTE: [f64; 2] = [0.03, 0.5];
/// … and for each kilometre (2.5 and 20 L/100 km from 50 L).
const PER_KM: [f64; 2] = [0.05, 0.4];

/// Captures in the order in which they were recorded, as far as that is known.
pub fn in_order(side: &[Summary]) -> Vec<&Summary> {
    let mut all: Vec<&Summary> = side.iter().collect();
    all.sort_by_key(|summary| summary.facts.started);
    all
}

/// Whether fuel was surely filled in from the end of a capture to the start of a later one.
pub fn was_filled(earlier: &Summary, later: &Summary) -> bool {
    let Some(risen) = risen(&earlier.facts, &later.facts) else {
        return false;
    };
    let [minutes, km] = since(earlier, &later.facts).map(|since| {
        // less than before: codes were cleared between, and at least what is counted was driven since
        since.map(|(more, counted)| if more < 0.0 { counted } else { more })
    });
    let burnt = |used: Option<f64>, [least, _]: [f64; 2]| used.unwrap_or(0.0) * least;
    risen + burnt(minutes, PER_MINUTE).max(burnt(km, PER_KM)) >= SWING
}

/// The most that can have been filled in from the end of a capture to the start of a later one, beside the gauge's
/// swing, points.
pub fn most_filled(earlier: &Summary, later: &Summary) -> Option<f64> {
    let risen = risen(&earlier.facts, &later.facts)?;
    let [minutes, km] = since(earlier, &later.facts).map(|since| {
        // less than before: how far it was driven until codes were cleared is not known
        since.map(|(more, _)| more).filter(|more| *more >= 0.0)
    });
    let burnt = |used: Option<f64>, [_, most]: [f64; 2]| used.map(|used| used * most);
    let burnt = [burnt(minutes, PER_MINUTE), burnt(km, PER_KM)];
    Some(risen.max(0.0) + burnt.into_iter().flatten().reduce(f64::min)?)
}

/// What the gauge rose by from the end of one capture to the start of a later one, points; `None` where it was not read in
/// both.
pub fn risen(earlier: &Facts, later: &Facts) -> Option<f64> {
    let (_, end) = earlier.fuel_level_pct?;
    let (start, _) = later.fuel_level_pct?;
    Some(start - end)
}

/// Engine minutes from the end of a capture, and kilometres from its start, to the start of a later one, with what was
/// counted since codes were cleared; below 0 when they were cleared between.
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
