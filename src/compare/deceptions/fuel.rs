//! Another fuel: what moves all regions and banks alike is fuel until shown otherwise.

use crate::{
    quantity::signed,
    series::{
        summary::Summary,
        tank::{in_order, was_filled},
    },
};

use super::{
    super::{
        comparison::{Change, Comparison, Verdict},
        tank,
    },
    Deception, Found, both,
};

/// A share of ethanol differs from here on, points.
const OTHER_BLEND: f64 = 5.0;
/// A tank with no more new fuel than this does not move corrections by what matters: a third of the 6 points that another
/// fuel was seen to move them by.
const HARMLESS_SHARE: f64 = 1.0 / 3.0;

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
    let [before, after] = sides.map(in_order);
    let (last, first) = (before.last()?, after.first()?);
    let is_averaged = tank::on_several(&before) && tank::on_several(&after);
    if is_averaged || !was_filled(last, first) {
        return None;
    }
    let (_, before) = last.facts.fuel_level_pct?;
    let (after, _) = first.facts.fuel_level_pct?;
    let how = match before < after {
        true => format!("while the fuel level rose from {before:.0} to {after:.0} %"),
        false => format!(
            "and the engine ran longer between the logs than the fuel level lets ({before:.0} to {after:.0} %), so that fuel was \
             filled in"
        ),
    };
    let sentence = format!(
        "Every region and bank moved alike ({} points) {how}: that is the fuel until shown otherwise. Ask what was filled \
         in; compare again on the same fuel, or when this tank is used up.",
        signed(moved.difference_pct)
    );
    Some((Deception::Refuelled, sentence))
}

/// What to ask when a level alone decides, all moved alike, and nothing tells whether another fuel was filled in.
pub fn question(comparison: &Comparison) -> Option<String> {
    let misfires = comparison
        .misfires
        .iter()
        .any(|misfires| decides(misfires.verdict));
    let moved = moved_alike(comparison)?;
    let is_open = !misfires && comparison.spread.new_fuel > HARMLESS_SHARE;
    is_open.then(|| {
        format!(
            "The verdict hangs on the fuel: every region and bank moved alike ({} points), as with another fuel, and nothing \
             tells whether any was filled in. Ask whether the car was refuelled between the sides, and with what; if so, it proves \
             nothing of the work.",
            signed(moved.difference_pct)
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
