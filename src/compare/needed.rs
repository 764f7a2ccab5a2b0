//! How many more minutes in which regions, or how many more trips, would settle an inconclusive verdict.

use crate::series::{gather::estimate::usual, label::region::Region, summary::Summary};

use super::{
    CONFIDENCE, Statements,
    comparison::{Change, Comparison, Limits, Needed, Verdict},
    matching::Matched,
    misfires,
    spread::Spread,
    trims::{Statement, errors_of},
};

/// Half-width of an interval, points, below which more recording is not advised (assumed).
const LEAST_HALF: f64 = 1.0;
/// Largest number of further trips that is advised (assumed).
const MOST_TRIPS: u32 = 12;
/// Largest number of further minutes in one region that is advised: beyond it more trips are better (assumed).
const MOST_MINUTES: f64 = 45.0;
/// Minutes of idle after which a mean is known to one point within a trip (measured on the car of [`super::spread`]).
const IDLE_MINUTES: f64 = 12.0;
/// Minutes of driving after which a mean is known to one point within a trip (measured on the car of
/// [`super::spread`]).
const DRIVING_MINUTES: f64 = 5.0;
/// Share of the interval's half-width that the variation between trips may take up where more minutes are to settle the
/// result, 0 to 1 (assumed).
const LEFT: f64 = 0.95;

/// Factor by which the standard error within a planned trip may widen the variation between trips (assumed): beyond
/// that, longer recording hardly helps.
const WIDER: f64 = 1.15;

/// Seconds to plan for a region in one trip: enough that its mean fuel trim is hardly less certain than the variation
/// between trips allows, and that a cylinder without misfires can be called sound. They do not depend on the result so
/// far: recording on until a verdict appears would make wrong verdicts more probable.
pub fn planned_seconds(region: Region, spread: &Spread) -> f64 {
    let inside = (WIDER * WIDER - 1.0) * spread.region_variance();
    let for_trim = usual(Some(region)) / inside;
    for_trim.max(misfires::seconds_to_sound(region))
}

/// Recordings that would settle an inconclusive verdict; empty where nothing within reason would.
pub fn needed(
    statements: &Statements,
    comparison: &Comparison,
    sides: [&[Summary]; 2],
) -> Vec<Needed> {
    let open = comparison
        .trims
        .iter()
        .filter(|trim| trim.change.verdict == Verdict::CannotTell);
    // the bank that is closest to being settled is enough
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

/// Every matched region needs its time multiplied by `factor`.
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

/// The regions of one side that the other lacks; both kinds of driving where there are none.
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
