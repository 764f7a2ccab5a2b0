//! A different fuel: whatever moves all regions and banks alike counts as fuel until shown otherwise.

use crate::{
    quantity::signed,
    series::{
        summary::Summary,
        tank::{in_order, was_refuelled},
    },
};

use super::{
    super::{
        FuelAnswer,
        comparison::{Change, Comparison, Verdict},
        tank,
    },
    Confounder, Found, both,
};

/// Difference of ethanol content from which the blend differs, points (assumed).
const OTHER_BLEND: f64 = 5.0;
/// Share of new fuel in the tank up to which fuel trims do not move by as much as matters: a third of the 6 points by
/// which a different fuel was seen to move them.
const HARMLESS_SHARE: f64 = 1.0 / 3.0;

/// Advice where the fuel hides the effect of the work.
const ANOTHER_TIME: &str = "Compare again on the same fuel, or when this tank is empty.";

/// Misleading circumstances of this kind.
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
            "The fuel had {before:.0} % ethanol before and {after:.0} % after (PID 52): fuel trim shows the fuel, \
             not the work. Compare on the same fuel."
        );
        (Confounder::OtherBlend, sentence)
    })
}

fn refuel(comparison: &Comparison, sides: [&[Summary]; 2]) -> Option<Found> {
    let moved = moved_alike(comparison)?;
    match comparison.fuel {
        FuelAnswer::Unknown => {}
        FuelAnswer::Same => return None,
        FuelAnswer::Changed => {
            let sentence = format!(
                "The fuel changed in between, and fuel trim moved by the same amount everywhere ({} points), as \
                 another fuel makes it. {ANOTHER_TIME}",
                signed(moved.written_difference())
            );
            return Some((Confounder::Refuelled, sentence));
        }
    }
    let [before, after] = sides.map(in_order);
    let (last, first) = (before.last()?, after.first()?);
    if is_averaged(sides) || !was_refuelled(last, first) {
        return None;
    }
    let (_, before) = last.facts.fuel_level_pct?;
    let (after, _) = first.facts.fuel_level_pct?;
    let how = if before < after {
        format!("while the fuel level rose from {before:.0} to {after:.0} %")
    } else {
        format!(
            "and the engine ran longer in between than the fuel level allows ({before:.0} to {after:.0} %), so the \
         car was refuelled"
        )
    };
    let sentence = format!(
        "Fuel trim moved by the same amount everywhere ({} points) {how}: another fuel does that. Ask what was \
         filled in, and add `--fuel same` or `--fuel changed`. {ANOTHER_TIME}",
        signed(moved.written_difference())
    );
    Some((Confounder::Refuelled, sentence))
}

/// Whether each side was driven on several tanks of fuel, so that one odd tank does not explain the difference.
fn is_averaged(sides: [&[Summary]; 2]) -> bool {
    sides.iter().all(|side| tank::on_several(&in_order(side)))
}

/// The question to ask where a level alone decides, everything moved alike, and nothing shows whether a different fuel
/// was added; `None` otherwise.
pub fn question(comparison: &Comparison, sides: [&[Summary]; 2]) -> Option<String> {
    if comparison.fuel != FuelAnswer::Unknown || is_averaged(sides) {
        return None;
    }
    let misfires = comparison
        .misfires
        .iter()
        .any(|misfires| decides(misfires.verdict));
    let moved = moved_alike(comparison)?;
    let is_open = !misfires && comparison.spread.new_fuel > HARMLESS_SHARE;
    is_open.then(|| {
        format!(
            "The verdict depends on the fuel: fuel trim moved by the same amount everywhere ({} points), as another \
             fuel makes it, and the recordings cannot tell whether the car was refuelled. Ask what was filled in, \
             and add `--fuel same` or `--fuel changed`.",
            signed(moved.written_difference())
        )
    })
}

const fn decides(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Better | Verdict::Worse)
}

/// The change that all banks and regions made alike, if a level would be called better or worse because of it; `None`
/// otherwise.
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
