//! Misfire rates of each cylinder, after over before, in the regions common to both sides.
//!
//! Misfires depend on how the engine is run, so a region counts only with the revolutions that both sides have there,
//! and each region is compared with itself: one ratio, separate rates. Given all misfires of a region, those after are
//! binomial. Bursts widen the interval by the measured dispersion, and trips of an unchanged car with misfires differ
//! beyond that.
//!
//! The allowance for several cylinders counts only those that misfired at all on both sides together: the others get no
//! statement, and given the misfires of both sides together, their distribution over the sides is still open.

use crate::{
    series::{
        label::region::{ByRegion, Region},
        summary::{CylinderMisfires, Summary},
    },
    statistics::poisson::{self, Counted},
};

use super::{
    comparison::{Limits, MisfireChange, Needed, Verdict},
    trims::errors_of,
};

/// Probability that any of the cylinders gets a wrong verdict (common practice: 5 %); each gets an equal part.
const WRONG: f64 = 0.05;
/// Standard deviation of the logarithm of a misfire rate from trip to trip (assumed: weather and fuel move the lean
/// limit).
const BETWEEN_TRIPS: f64 = 0.12;
/// Misfires per 1000 revolutions on both sides below which an engine is sound (common practice).
const SOUND_PER_1000_REV: f64 = 0.5;
/// Upper end of a rate's interval, misfires per 1000 revolutions, up to which the rate counts as sound: twice
/// [`SOUND_PER_1000_REV`] (assumed).
const MOST_SOUND_PER_1000_REV: f64 = 2.0 * SOUND_PER_1000_REV;
/// Smallest half-width of the logarithm of a ratio that is worth more recording (assumed).
const LEAST_ROOM: f64 = 0.3;
/// Misfires per 1000 revolutions on both sides together below which a cylinder gets no statement (assumed: half of
/// [`SOUND_PER_1000_REV`]).
const LOOKED_AT_PER_1000_REV: f64 = SOUND_PER_1000_REV / 2.0;
/// Revolutions on both sides from which a region counts (assumed).
const LEAST_REVOLUTIONS: f64 = 300.0;
/// Thousands of revolutions that the usual dispersion at a rate counts for, against a side's own measurement (assumed).
const USUAL_THOUSANDS: f64 = 10.0;

/// Counts and revolutions of one side.
#[derive(Debug, Clone, Copy, Default)]
struct Side {
    revolutions: ByRegion<f64>,
    counts: ByRegion<f64>,
    /// All misfires; `spread` is these times the dispersion.
    total: f64,
    bursts: f64,
    trips: f64,
}

/// One cylinder in the regions common to both sides.
struct Cylinder {
    number: u8,
    /// Counts before and after in each region.
    regions: Vec<(Region, [Counted; 2])>,
    dispersions: [f64; 2],
    trips: [f64; 2],
}

/// One entry for each cylinder that both sides counted.
pub fn misfires(sides: [&[Summary]; 2], limits: &Limits) -> Vec<MisfireChange> {
    let [first, second] = sides;
    let mut numbers: Vec<u8> = counters(first)
        .map(|(_, counter)| counter.cylinder)
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers.retain(|number| counters(second).any(|(_, counter)| counter.cylinder == *number));
    let of = |number: &u8| Cylinder::of(*number, sides.map(|side| Side::of(side, *number)));
    let cylinders: Vec<Cylinder> = numbers.iter().filter_map(of).collect();
    let confidence = confidence(cylinders.iter().filter(|one| one.is_looked_at()).count());
    let changes = cylinders
        .iter()
        .filter_map(|cylinder| cylinder.change(confidence, limits));
    changes.collect()
}

/// Confidence of each interval when several cylinders are compared.
fn confidence(looked_at: usize) -> f64 {
    1.0 - WRONG / looked_at.max(1) as f64
}

/// Every counter of a side, with the revolutions by region of its capture.
fn counters(side: &[Summary]) -> impl Iterator<Item = (&ByRegion<f64>, &CylinderMisfires)> {
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
            for region in Region::ALL {
                sum.revolutions[region] += revolutions[region];
                sum.counts[region] += counter.count_by_region[region];
            }
            sum.total += counter.count;
            sum.bursts += counter.dispersion * counter.count;
            sum.trips += 1.0;
        }
        sum
    }

    /// Misfires and revolutions of a region.
    fn counted(&self, region: Region) -> Counted {
        Counted {
            count: self.counts[region],
            exposure: self.revolutions[region],
        }
    }

    /// Misfires per 1000 revolutions, thousands of revolutions, and the measured dispersion.
    fn bursts(&self) -> (f64, f64, f64) {
        let thousands = self.revolutions.values().sum::<f64>() / 1000.0;
        let measured = if self.total > 0.0 {
            self.bursts / self.total
        } else {
            1.0
        };
        (
            self.total / thousands.max(f64::MIN_POSITIVE),
            thousands,
            measured.max(1.0),
        )
    }
}

/// Variance over mean of both sides' counts.
///
/// Bad spells multiply all misfires by the same factor, so that the variance over the mean is 1 + κ × rate with one κ
/// (the negative binomial law). κ is fitted to both sides, and each side's own measurement, which rests on stretches of
/// 1000 revolutions, is shrunk towards the value expected from κ.
fn dispersions(sides: [&Side; 2]) -> [f64; 2] {
    let bursts = sides.map(Side::bursts);
    let sum = |term: fn(f64, f64) -> f64| -> f64 {
        let each = bursts.iter().map(|(rate, thousands, measured)| {
            // the error of a measured dispersion is in proportion to it
            thousands * term(*rate, measured - 1.0) / measured.powi(2)
        });
        each.sum()
    };
    let squares = sum(|rate, _| rate * rate);
    let kappa = if squares > 0.0 {
        sum(|rate, beyond| rate * beyond) / squares
    } else {
        0.0
    };
    bursts.map(|(rate, thousands, measured)| {
        let expected = 1.0 + kappa * rate;
        (USUAL_THOUSANDS * expected + thousands * measured) / (USUAL_THOUSANDS + thousands)
    })
}

impl Cylinder {
    fn of(number: u8, sides: [Side; 2]) -> Option<Self> {
        let [before, after] = &sides;
        let here = |region: Region| (region, [before.counted(region), after.counted(region)]);
        let turned = |(_, both): &(Region, [Counted; 2])| {
            both.iter().all(|one| one.exposure >= LEAST_REVOLUTIONS)
        };
        let regions: Vec<_> = Region::ALL.into_iter().map(here).filter(turned).collect();
        (!regions.is_empty()).then(|| Self {
            number,
            regions,
            dispersions: dispersions([before, after]),
            trips: sides.map(|side| side.trips),
        })
    }

    /// All regions together, before and after.
    fn sums(&self) -> [Counted; 2] {
        [0, 1].map(|index| {
            let side = self.regions.iter().filter_map(|(_, both)| both.get(index));
            Counted {
                count: side.clone().map(|one| one.count).sum(),
                exposure: side.map(|one| one.exposure).sum(),
            }
        })
    }

    fn is_looked_at(&self) -> bool {
        let [before, after] = self.sums();
        is_looked_at(before, after)
    }

    fn change(&self, confidence: f64, limits: &Limits) -> Option<MisfireChange> {
        let between: f64 = self.trips.iter().map(|trips| 1.0 / trips).sum();
        let strata: Vec<[Counted; 2]> = self.regions.iter().map(|(_, both)| *both).collect();
        let found = poisson::rate_ratio(&strata, self.dispersions, confidence)?
            .widened(errors_of(confidence) * BETWEEN_TRIPS * between.sqrt());
        let sums = self.sums();
        let most = sums.iter().zip(self.dispersions).map(most_per_1000_rev);
        let counts = |both: &[Counted; 2]| both.iter().map(|one| one.count).sum::<f64>();
        let counted = self.regions.iter().filter(|(_, both)| counts(both) > 0.0);
        let region = counted.max_by(|(_, one), (_, two)| counts(one).total_cmp(&counts(two)));
        let [before, after] = sums.map(per_1000_rev);
        let mut change = MisfireChange {
            cylinder: self.number,
            before_per_1000_rev: before,
            after_per_1000_rev: after,
            rate_ratio: found.ratio,
            low: found.low,
            high: found.high,
            revolutions: sums.map(|side| side.exposure),
            dispersions: self.dispersions,
            region: region.map(|(region, _)| *region),
            verdict: Verdict::CannotTell,
        };
        let most = most.fold(0.0, f64::max);
        change.verdict = judged(&change, self.is_looked_at(), most, limits.misfire_factor);
        Some(change)
    }
}

fn is_looked_at(before: Counted, after: Counted) -> bool {
    let revolutions = before.exposure + after.exposure;
    before.count + after.count >= LOOKED_AT_PER_1000_REV / 1000.0 * revolutions
}

fn per_1000_rev(side: Counted) -> f64 {
    1000.0 * side.count / side.exposure
}

/// Upper end of a side's misfire rate, misfires per 1000 revolutions.
fn most_per_1000_rev((side, dispersion): (&Counted, f64)) -> f64 {
    let interval = poisson::mean_interval(side.count, dispersion, 0.95);
    1000.0 * interval.map_or(f64::INFINITY, |(_, high)| high) / side.exposure
}

/// Further recording, in the region with the most misfires, that would settle each open cylinder if its rates stay: the
/// variance of the logarithm of a ratio is about φ / counts on each side. Nothing where only more trips would.
pub fn needed(changes: &[MisfireChange], limits: &Limits) -> impl Iterator<Item = Needed> {
    let looked_at = changes.iter().filter(|change| {
        let [before, after] = counted(change);
        is_looked_at(before, after)
    });
    let errors = errors_of(confidence(looked_at.count()));
    let open = changes
        .iter()
        .filter(|change| change.verdict == Verdict::CannotTell);
    let limit = limits.misfire_factor.ln();
    open.filter_map(move |change| minutes(change, errors, limit))
}

fn counted(change: &MisfireChange) -> [Counted; 2] {
    let [before, after] = change.revolutions;
    let of = |rate: f64, exposure: f64| Counted {
        count: rate / 1000.0 * exposure,
        exposure,
    };
    [
        of(change.before_per_1000_rev, before),
        of(change.after_per_1000_rev, after),
    ]
}

fn minutes(change: &MisfireChange, errors: f64, limit: f64) -> Option<Needed> {
    let region = change.region?;
    let [revolutions, other] = change.revolutions;
    let sides = counted(change).into_iter().zip(change.dispersions);
    let inside: f64 = sides
        .map(|(side, dispersion)| dispersion / (side.count + 0.5 * dispersion))
        .sum();
    let rates = [change.before_per_1000_rev, change.after_per_1000_rev];
    let [before, after] = rates.map(|rate| rate.max(1e-3));
    let apart = (after / before).ln().abs();
    let room = if apart >= limit { apart } else { limit - apart };
    let wanted = (room.max(LEAST_ROOM) / errors).powi(2) - 2.0 * BETWEEN_TRIPS.powi(2);
    let more = (inside / wanted - 1.0) * revolutions.min(other);
    (wanted > 0.0 && more > 0.0).then(|| Needed {
        region: Some(region),
        more_minutes: (2.0 * more / usual_rpm(region)).ceil() / 2.0,
        more_trips: 0,
    })
}

/// Seconds of a region in which a cylinder without misfires turns often enough to be called sound.
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

fn judged(
    change: &MisfireChange,
    is_looked_at: bool,
    most_per_1000_rev: f64,
    factor: f64,
) -> Verdict {
    let high = change.high.unwrap_or(f64::INFINITY);
    let ratio = change.rate_ratio.unwrap_or(f64::INFINITY);
    let highest = change.before_per_1000_rev.max(change.after_per_1000_rev);
    let matters = is_looked_at && highest >= SOUND_PER_1000_REV;
    let sound = most_per_1000_rev < MOST_SOUND_PER_1000_REV;
    match () {
        () if matters && high < 1.0 && ratio <= 1.0 / factor => Verdict::Better,
        () if matters && change.low > 1.0 && ratio >= factor => Verdict::Worse,
        () if sound || (change.low > 1.0 / factor && high < factor) => Verdict::NoChange,
        () => Verdict::CannotTell,
    }
}
