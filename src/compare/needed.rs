//! How many more minutes in which regions, or how many more trips, would settle what cannot be told.

use crate::series::{gather::estimate::usual, label::region::Region, summary::Summary};

use super::{
    CONFIDENCE, Statements,
    comparison::{Change, Comparison, Limits, Needed, Verdict},
    matching::Matched,
    misfires,
    spread::Spread,
    trims::{Statement, errors_of},
};

/// An interval need not become narrower than this on either side, points.
const LEAST_HALF: f64 = 1.0;
/// More trips than this are no advice.
const MOST_TRIPS: u32 = 12;
/// More minutes than this in one region are no advice: more trips are better.
const MOST_MINUTES: f64 = 45.0;
/// What a region not matched at all needs for one point inside a trip, minutes (measured on the car of
/// [`super::spread`]).
const IDLE_MINUTES: f64 = 12.0;
const DRIVING_MINUTES: f64 = 5.0;
/// Share of the interval that may be left to the wander between trips when minutes are to settle it.
const LEFT: f64 = 0.95;

/// How much wider the doubt inside a planned trip may make what trips differ by anyway: longer holding hardly helps then.
const WIDER: f64 = 1.15;

/// Seconds to plan for a region in one trip. They are enough for what the region is held for: its mean correction is
/// then hardly less sure than trips let it be, and a cylinder that does not misfire can be called sound. Nothing in them
/// depends on how a comparison looks so far: holding on until a verdict comes out would make wrong ones likelier.
pub fn planned_seconds(region: Region, spread: &Spread) -> f64 {
    let inside = (WIDER * WIDER - 1.0) * spread.region_variance();
    let for_correction = usual(Some(region)) / inside;
    for_correction.max(misfires::seconds_to_sound(region))
}

/// What would settle a verdict that cannot be told; empty when nothing within reason would.
pub fn needed(
    statements: &Statements,
    comparison: &Comparison,
    sides: [&[Summary]; 2],
) -> Vec<Needed> {
    let open = comparison
        .trims
        .iter()
        .filter(|trim| trim.change.verdict == Verdict::CannotTell);
    // the bank nearest to being settled is enough
    let each = open.filter_map(|trim| {
        let mut banks = statements.banks.iter();
        let (_, matched, level) = banks.find(|(bank, ..)| *bank == trim.bank)?;
        let all = for_level(&trim.change, level.as_ref()?, matched, comparison);
        (!all.is_empty()).then_some(all)
    });
    let effort = |all: &Vec<Needed>| -> f64 {
        let one = |needed: &Needed| needed.more_minutes + 30.0 * f64::from(needed.more_trips);
        all.iter().map(one).sum()
    };
    let cheapest = each.min_by(|a, b| effort(a).total_cmp(&effort(b)));
    if comparison.trims.is_empty() {
        return unmatched(sides);
    }
    let mut all = cheapest.unwrap_or_default();
    let each = misfires::needed(&comparison.misfires, &comparison.limits);
    let bearable = each.filter(|needed| needed.more_minutes <= MOST_MINUTES);
    for needed in bearable {
        // one drive serves them all
        match all.iter_mut().find(|known| known.region == needed.region) {
            Some(known) => known.more_minutes = known.more_minutes.max(needed.more_minutes),
            None => all.push(needed),
        }
    }
    all
}

/// Half-width in points at which the statement would be settled, if its middle stays.
fn wanted(change: &Change, limits: &Limits) -> f64 {
    let size = change.difference_pct.abs();
    let room = if change.towards_sound_pct.abs() >= limits.trim_points {
        size
    } else {
        limits.trim_points - size
    };
    room.max(LEAST_HALF)
}

fn for_level(
    change: &Change,
    level: &Statement,
    matched: &[Matched],
    comparison: &Comparison,
) -> Vec<Needed> {
    let errors = wanted(change, &comparison.limits) / 100.0 / errors_of(CONFIDENCE);
    let variance = errors * errors;
    let left = LEFT * variance - level.between;
    if left > 0.0 {
        let factor = level.inside / left.max((1.0 - LEFT) * variance);
        let minutes: Vec<Needed> = more_minutes(matched, factor).collect();
        let bearable = minutes
            .iter()
            .all(|needed| needed.more_minutes <= MOST_MINUTES);
        if bearable && !minutes.is_empty() {
            return minutes;
        }
    }
    more_trips(level, comparison, variance)
}

/// Every matched region needs its time so many times over.
fn more_minutes(matched: &[Matched], factor: f64) -> impl Iterator<Item = Needed> {
    let one = move |matched: &Matched| Needed {
        region: Some(matched.region),
        more_minutes: (2.0 * matched.seconds / 60.0 * (factor - 1.0).max(0.0)).ceil() / 2.0,
        more_trips: 0,
    };
    matched
        .iter()
        .map(one)
        .filter(|needed| needed.more_minutes > 0.0)
}

fn more_trips(level: &Statement, comparison: &Comparison, variance: f64) -> Vec<Needed> {
    let side = 2.0 * comparison.spread.side.powi(2);
    let per_trip = (level.between - side).max(0.0) + level.inside;
    let trips = comparison.trips.map(|count| count.max(1) as f64);
    let inverse = |more: f64| -> f64 { trips.iter().map(|count| 1.0 / (count + more)).sum() };
    let enough =
        |more: &u32| side + per_trip * inverse(f64::from(*more)) / inverse(0.0) <= variance;
    let more = (1..=MOST_TRIPS).find(enough);
    let needed = more.map(|more_trips| Needed {
        region: None,
        more_minutes: 0.0,
        more_trips,
    });
    needed.into_iter().collect()
}

/// The regions that one side visited and the other did not; both kinds of driving when there are none.
fn unmatched(sides: [&[Summary]; 2]) -> Vec<Needed> {
    let visited = |side: &[Summary], region: Region| {
        side.iter()
            .flat_map(|summary| &summary.trims)
            .any(|trim| trim.region == region)
    };
    let one_side = |region: &Region| sides.iter().any(|side| visited(side, *region));
    let mut regions: Vec<Region> = Region::ALL.into_iter().filter(one_side).collect();
    if regions.is_empty() {
        regions = vec![Region::WarmIdle, Region::LightCruise];
    }
    let one = |region: Region| Needed {
        region: Some(region),
        more_minutes: match region {
            Region::WarmIdle | Region::RaisedIdle => IDLE_MINUTES,
            Region::LightCruise | Region::Loaded => DRIVING_MINUTES,
        },
        more_trips: 0,
    };
    regions.into_iter().map(one).collect()
}
