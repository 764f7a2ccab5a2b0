//! Misfire counters of service 06: increments over intervals, against revolutions.
//!
//! A counter is reset with the driving cycle, stops at its largest value, and on some cars moves only in blocks of
//! revolutions. Each increment is attributed to the regions in which the engine turned since the counter was last read
//! (or, for counters that move in blocks, since they last moved).

use std::collections::VecDeque;

use pintle_protocol::Item;

use crate::series::{
    gather::{
        confirmation::At,
        counter::{CLOSE_REVOLUTIONS, COUNTER_END, Counter, difference, in_regions, share_out},
        exposure::Exposure,
    },
    label::region::ByPart,
    summary::{CylinderMisfires, MisfireSummary},
};

/// First of the misfire monitors of cylinders 1 to 16 (SAE J1979 service 06: A2 to AD are cylinders 1 to 12; the four
/// after them continue the row, from memory).
const FIRST_MID: u8 = 0xA2;
/// Number of cylinders with a misfire monitor.
const CYLINDERS: usize = 16;
/// Test identifier: misfires averaged over the last ten driving cycles (SAE J1979).
const AVERAGE_TID: u8 = 0x0B;
/// Test identifier: misfires of the current driving cycle (SAE J1979).
const CYCLE_TID: u8 = 0x0C;
/// Largest number of readings that may wait for their moment to be judged (assumed; it bounds memory).
const MOST_WAITING: usize = 4096;

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
    /// Revolutions; increments across its epochs are not counted.
    pub exposure: Exposure,
    /// Revolutions by region when a counter was last read.
    turned_at_reading: ByPart<f64>,
    watched: ByPart<f64>,
    epoch_at_reading: Option<u32>,
    movement: Movement,
    round: RoundOfReadings,
}

/// Revolutions between movements of any counter.
#[derive(Debug, Clone, Default)]
struct Movement {
    turned_before: Option<ByPart<f64>>,
    /// Revolutions between the last movement and the one before it.
    block: ByPart<f64>,
}

/// Which counters have been read since the last round ended.
#[derive(Debug, Clone, Default)]
struct RoundOfReadings {
    read: u16,
    moved: bool,
}

impl MisfireWatch {
    /// Takes a service 06 value read in this second, if it is a misfire counter.
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

    /// Processes the readings taken in a second that [`Self::exposure`] has already taken in; returns a round when all
    /// counters have been read.
    pub fn moment(&mut self, second: u64) -> Option<Round> {
        let mut ended = None;
        while let Some(reading) = self.waiting.front().copied()
            && reading.second <= second
        {
            self.waiting.pop_front();
            ended = self.work_off(reading).or(ended);
        }
        ended
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
        let at = At {
            value: reading.value,
            epoch: self.exposure.epoch(),
            turned: self.exposure.turned(),
        };
        let mut moved = false;
        for at in counter.confirmation.believed(at) {
            moved |= self.movement.advance(counter, at);
        }
        self.note_exposure();
        self.round.note(reading.cylinder, moved)
    }

    fn note_exposure(&mut self) {
        let (turned, epoch) = (self.exposure.turned(), self.exposure.epoch());
        if self.epoch_at_reading == Some(epoch) {
            let since = difference(&turned, &self.turned_at_reading);
            for (part, turned) in since {
                self.watched[part] += turned;
            }
        }
        self.turned_at_reading = turned;
        self.epoch_at_reading = Some(epoch);
    }

    /// Takes the readings that wait for a next one that will not come.
    pub fn settle(&mut self) {
        for counter in self.counters.iter_mut().flatten() {
            if let Some(at) = counter.confirmation.rest() {
                self.movement.advance(counter, at);
            }
        }
    }

    /// Number of readings that the next ones did not confirm.
    pub fn dropped(&self) -> u64 {
        let counters = self.counters.iter().flatten();
        counters.map(|counter| counter.confirmation.dropped).sum()
    }

    /// Whether the counters move in blocks, so that seconds without movement say nothing.
    pub fn moves_in_blocks(&self) -> bool {
        let mut counters = self.counters.iter().flatten();
        counters.any(|counter| counter.close.in_blocks())
    }

    /// Whether counters count at once, so that seconds without movement are seconds without misfires.
    pub fn count_at_once(&self) -> bool {
        let mut counters = self.counters.iter().flatten();
        counters.any(|counter| counter.close.counts_at_once()) && !self.moves_in_blocks()
    }

    /// Whether a counter is at its largest value and cannot count any more.
    pub fn is_saturated(&self) -> bool {
        self.counters
            .iter()
            .flatten()
            .any(|counter| counter.high >= COUNTER_END)
    }

    /// Summary of the counters; `None` without any.
    pub fn summary(&self) -> Option<MisfireSummary> {
        let blocks = self.moves_in_blocks();
        let numbered = (1..).zip(&self.counters);
        let cylinders: Vec<CylinderMisfires> = numbered
            .filter_map(|(cylinder, counter)| Some(counter.as_ref()?.summary(cylinder, blocks)))
            .collect();
        (!cylinders.is_empty()).then(|| MisfireSummary {
            revolutions: self.watched.values().sum(),
            revolutions_by_region: in_regions(&self.watched),
            cylinders,
            resets: self.resets(),
        })
    }

    fn resets(&self) -> u32 {
        let counters = self.counters.iter().flatten();
        counters.map(|counter| counter.resets).max().unwrap_or(0)
    }
}

impl Movement {
    /// Advances a counter to a confirmed reading; returns whether it moved.
    fn advance(&mut self, counter: &mut Counter, at: At) -> bool {
        let increment = counter.advance(at.value, at.epoch, &at.turned);
        let Some(increment) = increment.filter(|increment| *increment > 0.0) else {
            return false;
        };
        let since = self.note(&at.turned);
        share_out(&mut counter.by_block, increment, &since);
        true
    }

    /// Notes a movement and returns the revolutions since the counters last moved. Counters read within a few
    /// revolutions of each other moved together.
    fn note(&mut self, turned: &ByPart<f64>) -> ByPart<f64> {
        let since = difference(turned, &self.turned_before.unwrap_or_default());
        let together = since.values().sum::<f64>() < CLOSE_REVOLUTIONS;
        if self.turned_before.is_none() || !together {
            self.turned_before = Some(*turned);
            self.block = since;
        }
        self.block
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
