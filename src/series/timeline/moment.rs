//! One-second moments: the value of every quantity in that second.
//!
//! Readings within a moment are averaged, so that a logger at 1 Hz and one at 50 Hz give the same result. A moment is
//! passed on two seconds after its end, together with its neighbours: whether an engine runs steadily shows only with
//! hindsight.

use std::collections::VecDeque;

use crate::series::timeline::{
    item::{ItemSeries, Known},
    quantity::Quantity,
};

/// Largest time of a recording, microseconds: about 35 years. Later times are invalid.
const LAST_US: u64 = 1 << 50;

/// Length of a moment, microseconds.
pub const MOMENT_US: u64 = 1_000_000;

/// What was known in one second.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// Seconds since the recording started, at the moment's beginning.
    pub second: u64,
    known: [Option<Known>; Quantity::COUNT],
}

impl Moment {
    /// Value of a quantity in the second: for numbers the mean, for codes the latest; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<f64> {
        let known = self.known(quantity)?;
        Some(if Quantity::is_code(quantity as usize) {
            known.last
        } else {
            known.mean
        })
    }

    /// Whether no quantity is known.
    pub fn is_blank(&self) -> bool {
        self.known.iter().all(Option::is_none)
    }

    /// Details of a quantity in the second; `None` where it is not known.
    pub fn known(&self, quantity: Quantity) -> Option<Known> {
        self.known.get(quantity as usize).copied().flatten()
    }
}

/// A moment with its neighbours, ready to be labelled.
#[derive(Debug, Clone, Copy)]
pub struct Window<'a> {
    moments: &'a VecDeque<Moment>,
    index: usize,
    /// The moment itself.
    pub now: &'a Moment,
}

impl<'a> Window<'a> {
    /// The moment and its neighbours within two seconds.
    pub fn around(&self) -> impl Iterator<Item = &'a Moment> {
        let first = self.index.saturating_sub(Timeline::REACH);
        let count = self.index + Timeline::REACH + 1 - first;
        self.moments.iter().skip(first).take(count)
    }

    /// The moment before, if it is known.
    pub fn before(&self) -> Option<&'a Moment> {
        self.moments.get(self.index.checked_sub(1)?)
    }

    /// Largest minus smallest value of a quantity within two seconds on either side; `None` where it is not known.
    pub fn spread(&self, quantity: Quantity) -> Option<f64> {
        let values = self.around().filter_map(|moment| moment.get(quantity));
        let (low, high) = values.fold((f64::MAX, f64::MIN), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        (low <= high).then_some(high - low)
    }
}

/// The running record: readings go in, whole moments come out.
#[derive(Debug, Clone)]
pub struct Timeline {
    steps: Vec<ItemSeries>,
    /// End of the open moment, microseconds; 0 before the first reading.
    end_us: u64,
    last_us: u64,
    moments: VecDeque<Moment>,
}

impl Timeline {
    /// Number of neighbours that a moment gets on either side.
    pub const REACH: usize = 2;

    /// Nothing read yet.
    pub fn new() -> Self {
        Self {
            steps: vec![ItemSeries::default(); Quantity::COUNT],
            end_us: 0,
            last_us: 0,
            moments: VecDeque::with_capacity(2 * Self::REACH + 2),
        }
    }

    /// Notes the time; returns true when the open moment is over. Earlier times are taken as no later.
    #[inline]
    pub fn passes(&mut self, t_us: u64) -> bool {
        self.last_us = self.last_us.max(t_us.min(LAST_US));
        self.last_us >= self.end_us
    }

    /// Records a reading of the quantity with this dense number, now.
    #[inline]
    pub fn record(&mut self, number: usize, value: f64) {
        if let Some(step) = self.steps.get_mut(number) {
            step.push(self.last_us, value);
        }
    }

    /// Ends the open moment if its time is over; returns false when there is no more to end. The first call opens the
    /// first moment.
    pub fn close(&mut self) -> bool {
        if self.end_us == 0 {
            self.open_at(self.last_us);
            return false;
        }
        if self.last_us < self.end_us {
            return false;
        }
        self.close_now();
        true
    }

    /// Ends the open moment whatever the time, if it holds anything.
    pub fn close_now(&mut self) {
        let end_us = self.end_us;
        let mut known = [None; Quantity::COUNT];
        for (slot, step) in known.iter_mut().zip(&mut self.steps) {
            *slot = step.close_moment(end_us);
        }
        self.end_us += MOMENT_US;
        self.moments.push_back(Moment {
            second: end_us / MOMENT_US - 1,
            known,
        });
        if self.moments.len() > 2 * Self::REACH + 1 {
            self.moments.pop_front();
        }
    }

    /// The second that is open, counted from the recording's start.
    #[inline]
    pub fn second(&self) -> u64 {
        self.end_us / MOMENT_US - 1
    }

    /// Whether a moment is open.
    pub fn is_open(&self) -> bool {
        self.end_us > 0
    }

    /// The moment that lies `back` moments before the latest, once it has `back` neighbours after it.
    pub fn window(&self, back: usize) -> Option<Window<'_>> {
        let index = self.moments.len().checked_sub(back + 1)?;
        let now = self.moments.get(index)?;
        Some(Window {
            moments: &self.moments,
            index,
            now,
        })
    }

    /// Whether a quantity was ever read.
    pub fn seen(&self, quantity: Quantity) -> bool {
        self.steps
            .get(quantity as usize)
            .is_some_and(ItemSeries::seen)
    }

    /// The latest reading of a quantity; `None` where it is too old.
    pub fn latest(&self, quantity: Quantity) -> Option<f64> {
        let step = self.steps.get(quantity as usize)?;
        step.held(self.last_us)
    }

    /// Median interval between readings of a quantity, microseconds; `None` until it is known.
    pub fn interval_us(&self, quantity: Quantity) -> Option<u64> {
        self.steps.get(quantity as usize)?.interval_us()
    }

    /// Whether whole moments without any reading lie ahead while nothing is known any more.
    pub fn is_silent(&self) -> bool {
        self.last_us.saturating_sub(self.end_us) >= MOMENT_US
            && self.moments.back().is_some_and(Moment::is_blank)
    }

    /// Passes over the whole moments without any reading and says how many; forgets the neighbours.
    pub fn skip_silence(&mut self) -> u64 {
        let silent = self.last_us.saturating_sub(self.end_us) / MOMENT_US;
        self.moments.clear();
        self.end_us += silent * MOMENT_US;
        silent
    }

    fn open_at(&mut self, t_us: u64) {
        self.end_us = (t_us / MOMENT_US)
            .saturating_add(1)
            .saturating_mul(MOMENT_US);
    }
}
