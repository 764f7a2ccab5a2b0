//! Misfire rates of each cylinder, after over before, in the regions that both sides visited.
//!
//! Misfires depend on how the engine is run, so that a region counts only with what both sides turned there. Given all
//! misfires of both sides, those after are binomial; the interval of the rate ratio is exact. Bursts widen it by the
//! measured dispersion, and trips of an unchanged car that misfires differ beyond that.

use crate::{
    series::{
        region::Region,
        summary::{CylinderMisfires, Summary},
    },
    statistics::poisson::{self, Counted},
};

use super::{
    comparison::{Limits, MisfireChange, Needed, Verdict},
    trims::errors_of,
};

/// Chance that any of the cylinders is called wrongly; each gets its part.
const WRONG: f64 = 0.05;
/// Spread of the logarithm of a misfire rate from trip to trip (assumed: weather and fuel move the lean limit).
const BETWEEN_TRIPS: f64 = 0.12;
/// Fewer misfires in 1000 revolutions on both sides are what sound engines do (common practice).
const SOUND_PER_1000_REV: f64 = 0.5;
/// A rate that may still be so high, within the interval, is as good as a sound one.
const MOST_SOUND_PER_1000_REV: f64 = 2.0 * SOUND_PER_1000_REV;
/// The logarithm of a ratio need not be known better than this.
const LEAST_ROOM: f64 = 0.3;
/// A region counts from so many revolutions on both sides.
const LEAST_REVOLUTIONS: f64 = 300.0;

/// What one side turned and counted.
#[derive(Debug, Clone, Copy, Default)]
struct Side {
    revolutions: [f64; Region::ALL.len()],
    counts: [f64; Region::ALL.len()],
    /// All misfires, and the same times the dispersion.
    total: f64,
    bursts: f64,
    trips: f64,
}

/// One entry a cylinder that both sides counted.
pub fn misfires(sides: [&[Summary]; 2], limits: &Limits) -> Vec<MisfireChange> {
    let [first, second] = sides;
    let mut cylinders: Vec<u8> = counters(first)
        .map(|(_, counter)| counter.cylinder)
        .collect();
    cylinders.sort_unstable();
    cylinders.dedup();
    cylinders.retain(|number| counters(second).any(|(_, counter)| counter.cylinder == *number));
    let confidence = 1.0 - WRONG / cylinders.len().max(1) as f64;
    let one = |cylinder: u8| {
        let [before, after] = sides.map(|side| Side::of(side, cylinder));
        change(cylinder, before, after, confidence, limits)
    };
    cylinders.into_iter().filter_map(one).collect()
}

/// Every counter with the revolutions by region of its capture.
fn counters(
    side: &[Summary],
) -> impl Iterator<Item = (&[f64; Region::ALL.len()], &CylinderMisfires)> {
    let captures = side.iter().filter_map(|summary| summary.misfires.as_ref());
    captures.flat_map(|misfires| {
        let cylinders = misfires.cylinders.iter();
        cylinders.map(|counter| (&misfires.revolutions_by_region, counter))
    })
}

impl Side {
    fn of(side: &[Summary], cylinder: u8) -> Self {
        let mut sum = Self::default();
        for (revolutions, counter) in counters(side).filter(|(_, c)| c.cylinder == cylinder) {
            for (total, more) in sum.revolutions.iter_mut().zip(revolutions) {
                *total += more;
            }
            for (total, more) in sum.counts.iter_mut().zip(counter.count_by_region) {
                *total += more;
            }
            sum.total += counter.count;
            sum.bursts += counter.dispersion * counter.count;
            sum.trips += 1.0;
        }
        sum
    }

    /// Count and revolutions by region.
    fn regions(&self) -> impl Iterator<Item = (f64, f64)> {
        self.counts.into_iter().zip(self.revolutions)
    }
}

/// Counts and revolutions of one side in the regions that both visited.
#[derive(Debug, Clone, Copy, Default)]
struct Matched {
    count: f64,
    revolutions: f64,
}

impl Matched {
    fn add(&mut self, count: f64, revolutions: f64) {
        self.count += count;
        self.revolutions += revolutions;
    }

    fn per_1000_rev(&self) -> f64 {
        1000.0 * self.count / self.revolutions
    }

    /// The highest rate that is still likely.
    fn most_per_1000_rev(&self, dispersion: f64) -> f64 {
        let interval = poisson::mean_interval(self.count, dispersion, 0.95);
        1000.0 * interval.map_or(f64::INFINITY, |(_, high)| high) / self.revolutions
    }
}

fn change(
    cylinder: u8,
    before: Side,
    after: Side,
    confidence: f64,
    limits: &Limits,
) -> Option<MisfireChange> {
    let (mut one, mut two, mut expected) = (Matched::default(), Matched::default(), 0.0);
    let (mut most_counted, mut region) = (0.0, None);
    let regions = before.regions().zip(after.regions()).zip(Region::ALL);
    for (((count_one, turned_one), (count_two, turned_two)), here) in regions {
        if turned_one.min(turned_two) < LEAST_REVOLUTIONS {
            continue;
        }
        expected += (count_one + count_two) * turned_two / (turned_one + turned_two);
        if count_one + count_two > most_counted {
            (most_counted, region) = (count_one + count_two, Some(here));
        }
        one.add(count_one, turned_one);
        two.add(count_two, turned_two);
    }
    if one.revolutions <= 0.0 {
        return None;
    }
    let total = one.count + two.count;
    // the part of all misfires that would fall to the side after, were nothing changed
    let share = match total > 0.0 {
        true => expected / total,
        false => two.revolutions / (one.revolutions + two.revolutions),
    };
    let dispersion = dispersion(&before, &after);
    let counted = |side: Matched, exposure| Counted {
        count: side.count,
        exposure,
    };
    let (first, second) = (counted(one, 1.0 - share), counted(two, share));
    let between = BETWEEN_TRIPS.powi(2) * (1.0 / before.trips + 1.0 / after.trips);
    let found = poisson::rate_ratio(first, second, dispersion, confidence)?
        .widened(errors_of(confidence) * between.sqrt());
    let most = one
        .most_per_1000_rev(dispersion)
        .max(two.most_per_1000_rev(dispersion));
    let mut change = MisfireChange {
        cylinder,
        before_per_1000_rev: one.per_1000_rev(),
        after_per_1000_rev: two.per_1000_rev(),
        rate_ratio: found.ratio,
        low: found.low,
        high: found.high,
        revolutions: [one.revolutions, two.revolutions],
        dispersion,
        region,
        verdict: Verdict::CannotTell,
    };
    change.verdict = judged(&change, most, limits.misfire_factor);
    Some(change)
}

/// What more of the region in which most misfired would settle a cylinder, if its rates stay: the squared error of the
/// logarithm of a ratio is about φ / counts on each side. `None` when only more trips would.
pub fn needed(change: &MisfireChange, cylinders: usize, limits: &Limits) -> Option<Needed> {
    let region = change.region?;
    let [revolutions, other] = change.revolutions;
    let rates = [change.before_per_1000_rev, change.after_per_1000_rev];
    let counts = rates
        .map(|rate| rate / 1000.0)
        .into_iter()
        .zip(change.revolutions);
    let counts = counts.map(|(rate, revolutions)| rate * revolutions + 0.5 * change.dispersion);
    let inside: f64 = counts.map(|count| change.dispersion / count).sum();
    let [before, after] = rates.map(|rate| rate.max(1e-3));
    let apart = (after / before).ln().abs();
    let limit = limits.misfire_factor.ln();
    let room = if apart >= limit { apart } else { limit - apart };
    let errors = errors_of(1.0 - WRONG / cylinders.max(1) as f64);
    let wanted = (room.max(LEAST_ROOM) / errors).powi(2) - 2.0 * BETWEEN_TRIPS.powi(2);
    let more = (inside / wanted - 1.0) * revolutions.min(other);
    (wanted > 0.0 && more > 0.0).then(|| Needed {
        region: Some(region),
        more_minutes: (2.0 * more / usual_rpm(region)).ceil() / 2.0,
        more_trips: 0,
    })
}

/// Seconds of a region in which a cylinder that never misfires turns often enough to be called sound.
pub fn seconds_to_sound(region: Region) -> f64 {
    let most = poisson::mean_interval(0.0, 1.0, 0.95).map_or(f64::INFINITY, |(_, high)| high);
    let revolutions = 1000.0 * most / MOST_SOUND_PER_1000_REV;
    60.0 * revolutions / usual_rpm(region)
}

fn usual_rpm(region: Region) -> f64 {
    match region {
        Region::WarmIdle => 750.0,
        Region::RaisedIdle => 2500.0,
        Region::LightCruise | Region::Loaded => 2000.0,
    }
}

/// The counters' dispersion on both sides, weighed by counts.
fn dispersion(before: &Side, after: &Side) -> f64 {
    let counts = before.total + after.total;
    match counts > 0.0 {
        true => (before.bursts + after.bursts) / counts,
        false => 1.0,
    }
}

fn judged(change: &MisfireChange, most_per_1000_rev: f64, factor: f64) -> Verdict {
    let high = change.high.unwrap_or(f64::INFINITY);
    let ratio = change.rate_ratio.unwrap_or(f64::INFINITY);
    let matters = change.before_per_1000_rev.max(change.after_per_1000_rev) >= SOUND_PER_1000_REV;
    let sound = most_per_1000_rev < MOST_SOUND_PER_1000_REV;
    match () {
        () if matters && high < 1.0 && ratio <= 1.0 / factor => Verdict::Better,
        () if matters && change.low > 1.0 && ratio >= factor => Verdict::Worse,
        () if sound || (change.low > 1.0 / factor && high < factor) => Verdict::NoChange,
        () => Verdict::CannotTell,
    }
}
