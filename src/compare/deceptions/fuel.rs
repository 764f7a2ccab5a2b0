//! Another fuel: what moves all regions and banks alike is fuel until shown otherwise.

use crate::series::summary::Summary;

use super::{
    super::comparison::{Change, Comparison, Verdict},
    Deception, Found, both,
};

/// A share of ethanol differs from here on, points.
const OTHER_BLEND: f64 = 5.0;
/// The tank was filled when its level rose by this much between the sides, points: more than it swings by.
const REFUEL: f64 = 8.0;

/// What is found of the fuel.
pub fn found(comparison: &Comparison, sides: [&[Summary]; 2]) -> Vec<Found> {
    blend(sides)
        .into_iter()
        .chain(refuel(comparison, sides))
        .collect()
}

fn blend(sides: [&[Summary]; 2]) -> Option<Found> {
    let (before, after) = both(sides, |summary| summary.facts.ethanol_pct)?;
    ((before - after).abs() >= OTHER_BLEND).then(|| {
        let sentence = format!(
            "The fuel held {before:.0} % ethanol before and {after:.0} % after (PID 52): the level of the corrections \
             shows the fuel, not the work. Compare on the same fuel."
        );
        (Deception::OtherBlend, sentence)
    })
}

fn refuel(comparison: &Comparison, sides: [&[Summary]; 2]) -> Option<Found> {
    let moved = moved_alike(comparison)?;
    let points = format!("{:+.1} points", moved.difference_pct);
    let (before, after) = levels(sides)?;
    (after - before >= REFUEL).then(|| {
        let sentence = format!(
            "Every region and bank moved alike ({points}) while the fuel level rose from {before:.0} to {after:.0} %: that \
             is the fuel until shown otherwise. Ask what was filled in; compare again on the same fuel, or when this tank is used up."
        );
        (Deception::Refuelled, sentence)
    })
}

/// What to ask when a level alone decides, all moved alike, and nothing tells whether another fuel was filled in.
pub fn question(comparison: &Comparison) -> Option<String> {
    let misfires = comparison
        .misfires
        .iter()
        .any(|misfires| decides(misfires.verdict));
    let moved = moved_alike(comparison)?;
    (!misfires).then(|| {
        format!(
            "Every region and bank moved alike ({:+.1} points), as with another fuel: ask whether the car was refuelled \
             between the sides, and with what.",
            moved.difference_pct
        )
    })
}

const fn decides(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Better | Verdict::Worse)
}

/// The change that all banks and regions made alike, if a level would be called better or worse for it.
fn moved_alike(comparison: &Comparison) -> Option<&Change> {
    let mut levels = comparison.trims.iter().map(|trim| &trim.change);
    let level = levels.find(|change| decides(change.verdict))?;
    let apart = comparison
        .banks
        .iter()
        .any(|bank| decides(bank.change.verdict))
        || comparison
            .standing_against_driving
            .iter()
            .any(|change| decides(change.verdict));
    let mut regions = comparison.regions.iter().map(|region| &region.change);
    let same_way = |change: &Change| change.difference_pct * level.difference_pct > 0.0;
    (!apart && regions.all(same_way)).then_some(level)
}

/// Fuel level at the end of the last capture before and at the start of the first after, percent.
fn levels(sides: [&[Summary]; 2]) -> Option<(f64, f64)> {
    let [before, after] = sides.map(|side| {
        let mut known: Vec<&Summary> = side
            .iter()
            .filter(|s| s.facts.fuel_level_pct.is_some())
            .collect();
        known.sort_by_key(|summary| summary.facts.started);
        known
    });
    let (_, end) = before.last()?.facts.fuel_level_pct?;
    let (start, _) = after.first()?.facts.fuel_level_pct?;
    Some((end, start))
}
