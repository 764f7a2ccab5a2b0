//! Two cars, or the two sides swapped.

use crate::{
    identity::{self, Sighting},
    series::summary::Summary,
};

use super::{Confounder, Found, NAMES};

/// Misleading circumstances of this kind.
pub fn found(sides: [&[Summary]; 2]) -> Vec<Found> {
    let seen = sightings(sides);
    let car = other_car(&seen).or_else(|| programmed_anew(&seen));
    car.into_iter().chain(order(sides)).collect()
}

/// The car's identity in each capture.
fn sightings(sides: [&[Summary]; 2]) -> Vec<Sighting> {
    let sides = NAMES.into_iter().zip(sides);
    let each = sides.flat_map(|(name, side)| {
        side.iter().map(move |summary| Sighting {
            source: format!("a recording from {name}"),
            car: summary.facts.car.clone(),
        })
    });
    each.collect()
}

fn other_car(seen: &[Sighting]) -> Option<Found> {
    let sentence = match identity::check(seen, None, false) {
        Ok(doubts) => doubts.into_iter().next()?,
        Err(other) => format!("The captures are of {other}."),
    };
    Some((Confounder::OtherCar, sentence))
}

fn programmed_anew(seen: &[Sighting]) -> Option<Found> {
    let (first, others) = seen.split_first()?;
    let mut programs = others
        .iter()
        .filter_map(|other| first.car.programmed_anew(&other.car));
    let (one, two) = programs.next()?;
    let sentence = format!(
        "The controller was reprogrammed between the captures ({one}, then {two}): the change may come from the new \
         program."
    );
    Some((Confounder::ProgrammedAnew, sentence))
}

/// Captures from before the work must have begun before those from after it.
fn order(sides: [&[Summary]; 2]) -> Option<Found> {
    let [before, after] = sides.map(|side| {
        let starts = side.iter().filter_map(|summary| summary.facts.started);
        Some((starts.clone().min()?, starts.max()?))
    });
    let ((first_before, last_before), (first_after, last_after)) = (before?, after?);
    if first_before > last_after {
        let sentence = "The sides are swapped (every capture given as before was started later than those given as \
                        after). Give them the other way round.";
        return Some((Confounder::SidesSwapped, sentence.to_owned()));
    }
    (last_before > first_after).then(|| {
        let sentence =
            "A capture given as before was started later than one given as after: check which is which.";
        (Confounder::SidesMixed, sentence.to_owned())
    })
}
