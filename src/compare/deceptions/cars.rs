//! Two cars, or the sides the wrong way round.

use crate::series::summary::{Facts, Summary};

use super::{Deception, Found};

/// What is found of both.
pub fn found(sides: [&[Summary]; 2]) -> Vec<Found> {
    let facts: Vec<&Facts> = sides
        .iter()
        .flat_map(|side| side.iter().map(|s| &s.facts))
        .collect();
    other_car(&facts).into_iter().chain(order(sides)).collect()
}

fn other_car(facts: &[&Facts]) -> Option<Found> {
    let sentence = numbers(facts)
        .or_else(|| programs(facts))
        .or_else(|| parameters(facts))?;
    Some((Deception::OtherCar, sentence))
}

fn numbers(facts: &[&Facts]) -> Option<String> {
    let (one, two) = differing(facts.iter().filter_map(|facts| facts.vin.as_ref()))?;
    Some(format!(
        "The captures are of two cars: their identification numbers are {one} and {two}."
    ))
}

fn programs(facts: &[&Facts]) -> Option<String> {
    let known = facts
        .iter()
        .map(|facts| &facts.calibrations)
        .filter(|known| !known.is_empty());
    let (one, two) = differing(known)?;
    let (one, two) = (one.join(", "), two.join(", "));
    let same_car = facts.iter().all(|facts| facts.vin.is_some());
    Some(match same_car {
        true => format!(
            "The controller was programmed anew between the captures ({one}, then {two}): what changed may be the \
             program's doing."
        ),
        false => format!(
            "The captures are of two cars, or the controller was programmed anew: its calibrations are {one} and {two}."
        ),
    })
}

/// Support of parameters by block, in blocks that several captures know.
fn parameters(facts: &[&Facts]) -> Option<String> {
    let blocks = facts.iter().flat_map(|facts| &facts.supported);
    let differs = blocks.clone().any(|(block, mask)| {
        blocks
            .clone()
            .any(|(other, mask_there)| other == block && mask_there != mask)
    });
    differs.then(|| {
        "The captures are not of the same car, or its controller was changed: it supports other parameters.".to_owned()
    })
}

/// The first value and one that differs from it.
fn differing<T: PartialEq>(values: impl Iterator<Item = T>) -> Option<(T, T)> {
    let mut values = values;
    let first = values.next()?;
    let other = values.find(|value| *value != first)?;
    Some((first, other))
}

/// Captures from before must have begun before those from after.
fn order(sides: [&[Summary]; 2]) -> Option<Found> {
    let [before, after] = sides.map(|side| {
        let starts = side.iter().filter_map(|summary| summary.facts.started);
        Some((starts.clone().min()?, starts.max()?))
    });
    let ((first_before, last_before), (first_after, last_after)) = (before?, after?);
    if first_before > last_after {
        let sentence = "Every capture given as before began later than those given as after: the sides are swapped. \
                        Give them the other way round.";
        return Some((Deception::SidesSwapped, sentence.to_owned()));
    }
    (last_before > first_after).then(|| {
        let sentence =
            "A capture given as before began later than one given as after: check which is which.";
        (Deception::SidesMixed, sentence.to_owned())
    })
}
