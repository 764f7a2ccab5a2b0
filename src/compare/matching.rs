//! Pairs the cells common to both sides, weighted by the lesser time.

use crate::series::label::region::Region;

use super::{
    spread::Spread,
    trip::{Box, Held, Trip},
};

/// Seconds for which a box must be recorded on both sides (assumed).
pub const LEAST_S: f64 = 2.0;
/// Variance of one second's contribution to a mean, in squared logarithm × s, as far as it averages out: between that
/// of an idle and of a drive (see [`crate::series::gather::estimate`]). It only weighs trips of a side against each other.
const ONE_SECOND: f64 = 0.005 * 0.005 * 500.0;

/// One region, matched.
#[derive(Debug, Clone, PartialEq)]
pub struct Matched {
    /// Region.
    pub region: Region,
    /// Lesser times of the two sides, summed over the region's boxes, s.
    pub seconds: f64,
    /// Means before and after.
    pub sides: [SideMean; 2],
    /// Boxes of the region.
    pub boxes: Vec<MatchedBox>,
}

/// A box common to both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MatchedBox {
    /// Region and cell of the box.
    pub at: Box,
    /// Means of y = ln C before and after.
    pub mean_log: [f64; 2],
    /// Seconds before and after.
    pub seconds: [f64; 2],
}

/// The mean of one side over the matched boxes of a region.
#[derive(Debug, Clone, PartialEq)]
pub struct SideMean {
    /// Mean of y = ln C.
    pub mean_log: f64,
    /// Contribution of each trip of the side.
    pub trips: Vec<TripShare>,
}

/// Contribution of a trip to a mean.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TripShare {
    /// Weight of the trip; the trips' weights sum to 1.
    pub weight: f64,
    /// Variance of the trip's own mean within the trip, in squared logarithm.
    pub inside: f64,
}

/// A box on one side.
struct SideBox {
    at: Box,
    mean_log: f64,
    seconds: f64,
    /// Share of each trip in the box.
    shares: Vec<f64>,
}

/// All matched boxes, by region.
pub fn matched(sides: [&[Trip]; 2], spread: &Spread) -> Vec<Matched> {
    let [before, after] = sides.map(|trips| side_boxes(trips, spread));
    let pairs: Vec<(&SideBox, &SideBox)> = before
        .iter()
        .filter_map(|one| Some((one, after.iter().find(|two| two.at == one.at)?)))
        .filter(|(one, two)| lesser([one.seconds, two.seconds]).is_some())
        .collect();
    let here = Region::ALL.into_iter().filter_map(|region| {
        let own = pairs.iter().filter(|(one, _)| one.at.0 == region);
        let own: Vec<_> = own.copied().collect();
        (!own.is_empty()).then(|| in_region(region, &own, sides))
    });
    here.collect()
}

/// Seconds that a box counts for, by the seconds on both sides; `None` where one side has hardly any.
pub fn lesser([one, two]: [f64; 2]) -> Option<f64> {
    let lesser = one.min(two);
    (lesser >= LEAST_S).then_some(lesser)
}

fn in_region(region: Region, pairs: &[(&SideBox, &SideBox)], sides: [&[Trip]; 2]) -> Matched {
    let lesser = pairs.iter().map(|(one, two)| one.seconds.min(two.seconds));
    let seconds: f64 = lesser.clone().sum();
    let weights: Vec<f64> = lesser.map(|lesser| lesser / seconds).collect();
    let before: Vec<&SideBox> = pairs.iter().map(|(one, _)| *one).collect();
    let after: Vec<&SideBox> = pairs.iter().map(|(_, two)| *two).collect();
    let [trips_before, trips_after] = sides;
    Matched {
        region,
        seconds,
        sides: [
            side_mean(region, &before, &weights, trips_before),
            side_mean(region, &after, &weights, trips_after),
        ],
        boxes: pairs
            .iter()
            .map(|(one, two)| MatchedBox {
                at: one.at,
                mean_log: [one.mean_log, two.mean_log],
                seconds: [one.seconds, two.seconds],
            })
            .collect(),
    }
}

/// Every box of a side, with trips weighted by their precision, so that a long trip does not count for several.
fn side_boxes(trips: &[Trip], spread: &Spread) -> Vec<SideBox> {
    let mut all: Vec<Box> = trips
        .iter()
        .flat_map(|t| t.held.iter().map(|h| h.at))
        .collect();
    all.sort_unstable();
    all.dedup();
    let between = spread.trip.powi(2) + spread.region.powi(2);
    let one = |at: Box| {
        let held: Vec<Option<&Held>> = trips.iter().map(|trip| trip.at(at)).collect();
        let worth = |held: &Option<&Held>| {
            held.map_or(0.0, |held| 1.0 / (between + ONE_SECOND / held.seconds))
        };
        let total: f64 = held.iter().map(worth).sum();
        let shares: Vec<f64> = held.iter().map(|held| worth(held) / total).collect();
        let means = held
            .iter()
            .map(|held| held.map_or(0.0, |held| held.mean_log));
        SideBox {
            at,
            mean_log: means.zip(&shares).map(|(mean, share)| mean * share).sum(),
            seconds: held.iter().flatten().map(|held| held.seconds).sum(),
            shares,
        }
    };
    all.into_iter().map(one).collect()
}

fn side_mean(region: Region, boxes: &[&SideBox], weights: &[f64], trips: &[Trip]) -> SideMean {
    let weighted = boxes.iter().zip(weights);
    let mean_log = weighted
        .clone()
        .map(|(one, weight)| weight * one.mean_log)
        .sum();
    let share = |(index, trip): (usize, &Trip)| {
        // weight of each of the trip's boxes in the side's mean
        let own = weighted.clone().filter_map(|(one, weight)| {
            let held = trip.at(one.at)?;
            Some((weight * one.shares.get(index)?, held.seconds))
        });
        let weight: f64 = own.clone().map(|(weight, _)| weight).sum();
        if weight <= 0.0 {
            return TripShare::default();
        }
        // Kish's design effect: uneven weights are worth fewer seconds
        let per_second: f64 = own.map(|(w, s)| (w / weight).powi(2) / s).sum();
        let inside = trip.inside[region];
        TripShare {
            weight,
            inside: inside.stretches * inside.seconds * per_second + inside.slow,
        }
    };
    SideMean {
        mean_log,
        trips: trips.iter().enumerate().map(share).collect(),
    }
}
