//! Misfire counters of service 06 as what they are: increments over intervals, against revolutions.
//!
//! A counter is reset with the driving cycle, stops at its largest value, and on some cars moves only in blocks of
//! revolutions. Each increment is given to the regions in which the engine turned since the counter was read before
//! (or, for counters that move in blocks, since they moved before).

use std::collections::VecDeque;

use pintle_protocol::Item;

use super::{
    label::Label,
    region::Region,
    summary::{CylinderMisfires, MisfireSummary},
};

/// Misfire monitors of cylinders 1 to 16 (SAE J1979 service 06: A2 to AD are cylinders 1 to 12; the four after them
/// continue the row, from memory).
const FIRST_MID: u8 = 0xA2;
const CYLINDERS: usize = 16;
/// Test identifier: misfires averaged over the last ten driving cycles (SAE J1979).
const AVERAGE_TID: u8 = 0x0B;
/// Test identifier: misfires of the current driving cycle (SAE J1979).
const CYCLE_TID: u8 = 0x0C;
/// A counter of two bytes cannot count further.
const COUNTER_END: f64 = 65_535.0;
/// Revolutions in one stretch over which bursts are judged: the regulation's own block (13 CCR 1968.2 (e)(3)).
const STRETCH_REVOLUTIONS: f64 = 1000.0;
/// Readings no further apart than this tell whether a counter moves in blocks, the smallest of which are 200
/// revolutions (13 CCR 1968.2 (e)(3)): it then never moves at two such readings in a row, but by several counts.
const CLOSE_REVOLUTIONS: f64 = 100.0;
const BLOCK_MOVES: u32 = 4;
const BLOCK_COUNTS: f64 = 3.0;
/// Readings that may wait for their moment to be judged.
const MOST_WAITING: usize = 4096;
/// After so many seconds without engine speed the exposure is not known: counting starts anew.
const LONGEST_HOLE_S: u32 = 10;

/// The regions, and last what is outside every region.
const PLACES: usize = Region::ALL.len() + 1;

/// Revolutions or counts by region; the last entry is outside every region.
type ByRegion = [f64; PLACES];

/// One reading on its way to the moment in which it was taken.
#[derive(Debug, Clone, Copy)]
struct Reading {
    second: u64,
    cylinder: usize,
    tid: u8,
    value: f64,
}

/// Whether the counters moved between two rounds of reading them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Round {
    /// At least one counter moved.
    pub moved: bool,
}

/// Watches the misfire counters.
#[derive(Debug, Clone, Default)]
pub struct MisfireWatch {
    waiting: VecDeque<Reading>,
    counters: [Option<Counter>; CYLINDERS],
    /// Revolutions since the recording started.
    turned: ByRegion,
    /// The same when a counter was last read.
    turned_at_reading: ByRegion,
    watched: ByRegion,
    hole_s: u32,
    /// Raised by every hole; increments across one are not counted.
    epoch: u32,
    epoch_at_reading: Option<u32>,
    movement: Movement,
    round: RoundOfReadings,
}

/// Revolutions between movements of any counter.
#[derive(Debug, Clone, Default)]
struct Movement {
    turned_before: Option<ByRegion>,
    /// Between the last movement and the one before it.
    block: ByRegion,
}

/// How one counter moves from one reading to another close to it.
#[derive(Debug, Clone, Default)]
struct CloseReadings {
    moves: u32,
    counts: f64,
    moved_before: bool,
    twice: bool,
}

/// Which counters have been read since the last round ended.
#[derive(Debug, Clone, Default)]
struct RoundOfReadings {
    read: u16,
    moved: bool,
}

/// One cylinder's counter.
#[derive(Debug, Clone, Default)]
struct Counter {
    value: Option<f64>,
    epoch: u32,
    turned: ByRegion,
    high: f64,
    average_of_ten: Option<f64>,
    by_interval: ByRegion,
    by_block: ByRegion,
    bursts: [Bursts; PLACES],
    close: CloseReadings,
}

/// Spread of counts over stretches of revolutions in one region.
#[derive(Debug, Clone, Default)]
struct Bursts {
    open_counts: f64,
    open_revolutions: f64,
    stretches: u32,
    counts: f64,
    revolutions: f64,
    squares_per_revolution: f64,
}

impl MisfireWatch {
    /// Takes a service 06 value read in a second, if it is a misfire counter.
    #[inline]
    pub fn read(&mut self, second: u64, item: Item, value: f64) {
        let Item::Monitor { mid, tid } = item else {
            return;
        };
        let cylinder = usize::from(mid.wrapping_sub(FIRST_MID));
        if cylinder < CYLINDERS && (tid == AVERAGE_TID || tid == CYCLE_TID) && value >= 0.0 {
            self.waiting.push_back(Reading {
                second,
                cylinder,
                tid,
                value,
            });
            self.waiting.truncate(MOST_WAITING);
        }
    }

    /// Takes a judged second with its engine speed and works off the readings taken in it; tells when a round of
    /// reading all counters has ended.
    pub fn moment(
        &mut self,
        second: u64,
        engine_rpm: Option<f64>,
        label: Label,
        region: Option<Region>,
    ) -> Option<Round> {
        self.turn(engine_rpm, label, region);
        let mut ended = None;
        while let Some(reading) = self.waiting.front().copied()
            && reading.second <= second
        {
            self.waiting.pop_front();
            ended = self.work_off(reading).or(ended);
        }
        ended
    }

    /// Seconds passed in which nothing was known.
    pub fn gap(&mut self) {
        self.epoch += 1;
    }

    fn turn(&mut self, engine_rpm: Option<f64>, label: Label, region: Option<Region>) {
        let Some(engine_rpm) = engine_rpm else {
            self.hole_s += 1;
            if self.hole_s == LONGEST_HOLE_S {
                self.epoch += 1;
            }
            return;
        };
        self.hole_s = 0;
        let place = match label {
            // nothing burns, nothing is counted
            Label::FuelCut => return,
            Label::Used | Label::Transient | Label::OpenLoop | Label::Relearn => region,
            _ => None,
        };
        if let Some(turned) = self.turned.get_mut(index_of(place)) {
            *turned += engine_rpm / 60.0;
        }
    }

    fn work_off(&mut self, reading: Reading) -> Option<Round> {
        let counter = self
            .counters
            .get_mut(reading.cylinder)?
            .get_or_insert_default();
        if reading.tid == AVERAGE_TID {
            let highest = counter.average_of_ten.unwrap_or(0.0);
            counter.average_of_ten = Some(highest.max(reading.value));
            return None;
        }
        let increment = counter.advance(reading.value, self.epoch, &self.turned);
        if let Some(increment) = increment
            && increment > 0.0
        {
            let since = self.movement.note(&self.turned);
            share_out(&mut counter.by_block, increment, &since);
        }
        self.note_exposure();
        self.round
            .note(reading.cylinder, increment.unwrap_or(0.0) > 0.0)
    }

    fn note_exposure(&mut self) {
        if self.epoch_at_reading == Some(self.epoch) {
            let since = difference(&self.turned, &self.turned_at_reading);
            for (watched, turned) in self.watched.iter_mut().zip(since) {
                *watched += turned;
            }
        }
        self.turned_at_reading = self.turned;
        self.epoch_at_reading = Some(self.epoch);
    }

    /// Whether the counters move in blocks, so that seconds without movement say nothing.
    pub fn moves_in_blocks(&self) -> bool {
        let mut counters = self.counters.iter().flatten();
        counters.any(|counter| counter.close.in_blocks())
    }

    /// Whether a counter stands at its end and cannot count any more.
    pub fn is_saturated(&self) -> bool {
        self.counters
            .iter()
            .flatten()
            .any(|counter| counter.high >= COUNTER_END)
    }

    /// What the counters said; `None` if there are none.
    pub fn summary(&self) -> Option<MisfireSummary> {
        let blocks = self.moves_in_blocks();
        let numbered = (1..).zip(&self.counters);
        let cylinders: Vec<CylinderMisfires> = numbered
            .filter_map(|(cylinder, counter)| Some(counter.as_ref()?.summary(cylinder, blocks)))
            .collect();
        (!cylinders.is_empty()).then(|| MisfireSummary {
            revolutions: self.watched.iter().sum(),
            revolutions_by_region: in_regions(&self.watched),
            cylinders,
        })
    }
}

impl Counter {
    /// Takes the counter's new value; the increment since it was read before, if that is known.
    fn advance(&mut self, value: f64, epoch: u32, turned: &ByRegion) -> Option<f64> {
        let before = self.value.replace(value).filter(|_| self.epoch == epoch);
        let since = difference(turned, &self.turned);
        self.epoch = epoch;
        self.turned = *turned;
        self.high = self.high.max(value);
        let before = before.filter(|before| *before < COUNTER_END)?;
        // a smaller value: the counter was reset and has counted this much since
        let increment = if value >= before {
            value - before
        } else {
            value
        };
        self.close.note(increment, since.iter().sum());
        let mut shares = ByRegion::default();
        share_out(&mut shares, increment, &since);
        let places = self.bursts.iter_mut().zip(&mut self.by_interval);
        for ((bursts, counts), (share, turned)) in places.zip(shares.into_iter().zip(since)) {
            *counts += share;
            bursts.note(share, turned);
        }
        Some(increment)
    }

    fn summary(&self, cylinder: u8, blocks: bool) -> CylinderMisfires {
        let counts = if blocks {
            &self.by_block
        } else {
            &self.by_interval
        };
        CylinderMisfires {
            cylinder,
            count: counts.iter().sum(),
            count_by_region: in_regions(counts),
            average_of_ten: self.average_of_ten,
            counter_high: self.high,
            dispersion: dispersion(&self.bursts),
        }
    }
}

impl Movement {
    /// Notes a movement and gives the revolutions since the counters moved before. Counters read within a few
    /// revolutions of each other moved together.
    fn note(&mut self, turned: &ByRegion) -> ByRegion {
        let since = difference(turned, &self.turned_before.unwrap_or_default());
        let together = since.iter().sum::<f64>() < CLOSE_REVOLUTIONS;
        if self.turned_before.is_none() || !together {
            self.turned_before = Some(*turned);
            self.block = since;
        }
        self.block
    }
}

impl CloseReadings {
    fn note(&mut self, increment: f64, revolutions: f64) {
        let moved = increment > 0.0;
        if revolutions <= CLOSE_REVOLUTIONS && moved {
            self.moves += 1;
            self.counts += increment;
            self.twice |= self.moved_before;
        }
        self.moved_before = moved;
    }

    fn in_blocks(&self) -> bool {
        !self.twice
            && self.moves >= BLOCK_MOVES
            && self.counts >= BLOCK_COUNTS * f64::from(self.moves)
    }
}

impl RoundOfReadings {
    /// Notes a reading; a counter read for the second time ends the round before it.
    fn note(&mut self, cylinder: usize, moved: bool) -> Option<Round> {
        let bit = 1_u16 << cylinder;
        let ended = self.read & bit != 0;
        let round = Round { moved: self.moved };
        if ended {
            *self = Self::default();
        }
        self.read |= bit;
        self.moved |= moved;
        ended.then_some(round)
    }
}

impl Bursts {
    fn note(&mut self, counts: f64, revolutions: f64) {
        self.open_counts += counts;
        self.open_revolutions += revolutions;
        if self.open_revolutions >= STRETCH_REVOLUTIONS {
            self.stretches += 1;
            self.counts += self.open_counts;
            self.revolutions += self.open_revolutions;
            self.squares_per_revolution += self.open_counts.powi(2) / self.open_revolutions;
            self.open_counts = 0.0;
            self.open_revolutions = 0.0;
        }
    }

    /// Pearson's statistic against one constant rate, with its degrees of freedom.
    fn pearson(&self) -> (f64, f64) {
        if self.stretches < 2 || self.counts <= 0.0 {
            return (0.0, 0.0);
        }
        let rate = self.counts / self.revolutions;
        let squares = self.squares_per_revolution - self.counts * rate;
        (squares / rate, f64::from(self.stretches - 1))
    }
}

/// Pearson's statistic over its degrees of freedom, pooled over the regions, each with a rate of its own; at least 1.
fn dispersion(regions: &[Bursts; PLACES]) -> f64 {
    let pooled = regions.iter().map(Bursts::pearson);
    let (squares, freedom) = pooled.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    if freedom > 0.0 {
        (squares / freedom).max(1.0)
    } else {
        1.0
    }
}

fn index_of(region: Option<Region>) -> usize {
    region.map_or(Region::ALL.len(), Region::index)
}

fn difference(now: &ByRegion, before: &ByRegion) -> ByRegion {
    let mut since = *now;
    for (value, before) in since.iter_mut().zip(before) {
        *value -= before;
    }
    since
}

/// Shares counts out over the regions by revolutions; without a revolution they stay outside every region.
fn share_out(counts: &mut ByRegion, increment: f64, turned: &ByRegion) {
    let total: f64 = turned.iter().sum();
    if total > 0.0 {
        for (count, turned) in counts.iter_mut().zip(turned) {
            *count += increment * turned / total;
        }
    } else if let Some(outside) = counts.last_mut() {
        *outside += increment;
    }
}

fn in_regions(values: &ByRegion) -> [f64; Region::ALL.len()] {
    let [warm_idle, raised_idle, light_cruise, loaded, _] = *values;
    [warm_idle, raised_idle, light_cruise, loaded]
}
