//! One item as a step function of time: each reading holds until the next, but not for ever.
//!
//! The largest age of a reading is learned from the item itself: three times the median interval between its readings,
//! at least one second (the length of a moment) and at most ten.

/// Largest age of a reading of any item, microseconds (assumed).
pub const GREATEST_AGE_US: u64 = 10_000_000;

/// Age up to which a reading of any item is valid, microseconds: the length of a moment.
const LEAST_AGE_US: u64 = 1_000_000;

/// Number of intervals from which the median is used (assumed).
const ENOUGH_INTERVALS: u32 = 4;

/// The running median of intervals, from a histogram of quarter octaves between about 1 ms and 1 min.
#[derive(Debug, Clone)]
struct IntervalMedian {
    counts: [u32; Self::BINS],
    total: u32,
    middle: usize,
    below: u32,
}

impl Default for IntervalMedian {
    fn default() -> Self {
        Self {
            counts: [0; Self::BINS],
            total: 0,
            middle: 0,
            below: 0,
        }
    }
}

impl IntervalMedian {
    /// Position of the highest bit of the shortest interval in the histogram: 2¹⁰ µs, about 1 ms.
    const FIRST_OCTAVE: u32 = 10;
    /// Number of quarter octaves in the histogram: 16 octaves, up to about 1 min.
    const BINS: usize = 64;
    /// Number of intervals after which the median is fixed, so that the counts stay far from overflow.
    const ENOUGH_FOR_EVER: u32 = 1 << 24;

    /// Quarter octave of an interval: the position of its highest bit and the two bits after it.
    #[inline]
    fn bin(interval_us: u64) -> usize {
        let interval = interval_us.max(1 << Self::FIRST_OCTAVE);
        let octave = interval.ilog2();
        let quarter = (interval >> (octave - 2)) & 3;
        let bin = u64::from(octave - Self::FIRST_OCTAVE) * 4 + quarter;
        (bin as usize).min(Self::BINS - 1)
    }

    /// Upper edge of a bin, microseconds: rather keep a reading a little too long than call it stale for jitter.
    fn upper_us(bin: usize) -> u64 {
        let octave = bin as u32 / 4 + Self::FIRST_OCTAVE;
        (5 + bin as u64 % 4) << (octave - 2)
    }

    #[inline]
    fn count(&self, bin: usize) -> u32 {
        self.counts.get(bin).copied().unwrap_or(0)
    }

    #[inline]
    fn push(&mut self, interval_us: u64) {
        let bin = Self::bin(interval_us);
        let Some(count) = self.counts.get_mut(bin) else {
            return;
        };
        if self.total == Self::ENOUGH_FOR_EVER {
            return;
        }
        *count += 1;
        self.total += 1;
        self.below += u32::from(bin < self.middle);
        while self.below * 2 > self.total {
            self.middle -= 1;
            self.below -= self.count(self.middle);
        }
        while (self.below + self.count(self.middle)) * 2 < self.total {
            self.below += self.count(self.middle);
            self.middle += 1;
        }
    }

    fn median_us(&self) -> Option<u64> {
        (self.total >= ENOUGH_INTERVALS).then(|| Self::upper_us(self.middle))
    }
}

/// The readings of one item, as far as they still matter.
#[derive(Debug, Clone, Default)]
pub struct ItemSeries {
    last_us: u64,
    last: f64,
    sum: f64,
    fresh: u32,
    readings: u64,
    intervals: IntervalMedian,
}

/// An item's value during a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Mean of the readings within the moment, or the held value.
    pub mean: f64,
    /// The latest reading.
    pub last: f64,
    /// Number of readings within the moment; 0 when the value is held.
    pub fresh: u32,
}

impl ItemSeries {
    /// Takes a reading; times must not fall.
    #[inline]
    pub fn push(&mut self, t_us: u64, value: f64) {
        if self.readings > 0 {
            self.intervals.push(t_us - self.last_us);
        }
        self.readings += 1;
        self.last_us = t_us;
        self.last = value;
        self.sum += value;
        self.fresh += 1;
    }

    /// Whether the item was ever read.
    pub fn seen(&self) -> bool {
        self.readings > 0
    }

    /// Median interval between readings, microseconds; `None` until enough intervals are seen.
    pub fn interval_us(&self) -> Option<u64> {
        self.intervals.median_us()
    }

    /// Largest age of a reading of this item, microseconds.
    pub fn greatest_age_us(&self) -> u64 {
        self.interval_us().map_or(GREATEST_AGE_US, |median| {
            (3 * median).clamp(LEAST_AGE_US, GREATEST_AGE_US)
        })
    }

    /// The latest reading; `None` where it is too old at `now_us`.
    pub fn held(&self, now_us: u64) -> Option<f64> {
        let age_us = now_us.saturating_sub(self.last_us);
        (self.seen() && age_us <= self.greatest_age_us()).then_some(self.last)
    }

    /// Ends the moment that ends at `end_us` and returns the item's value in it; `None` where it was not known.
    pub fn close_moment(&mut self, end_us: u64) -> Option<Known> {
        let fresh = std::mem::take(&mut self.fresh);
        let sum = std::mem::take(&mut self.sum);
        if fresh > 0 {
            return Some(Known {
                mean: sum / f64::from(fresh),
                last: self.last,
                fresh,
            });
        }
        self.held(end_us).map(|last| Known {
            mean: last,
            last,
            fresh: 0,
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_running_median_is_the_median_within_its_bin(
            intervals in prop::collection::vec(2_000_u64..30_000_000, 5..200),
        ) {
            let mut running = IntervalMedian::default();
            for interval in &intervals {
                running.push(*interval);
            }
            let mut sorted = intervals.clone();
            sorted.sort_unstable();
            // of an even number of intervals either middle one is a median
            let low = sorted[(sorted.len() - 1) / 2];
            let high = sorted[sorted.len() / 2];
            let median = running.median_us().unwrap();
            prop_assert!(median > low && median <= high + high / 4, "{median} for {low}, {high}");
        }
    }

    #[test]
    fn a_reading_is_believed_for_three_intervals_but_ten_seconds_at_most() {
        let aged = |interval_us: u64| {
            let mut step = ItemSeries::default();
            for reading in 0..20 {
                step.push(reading * interval_us, 1.0);
            }
            step.greatest_age_us()
        };
        let three = aged(1_810_000);
        assert!((5_430_000..=6_800_000).contains(&three), "{three}");
        assert_eq!(aged(8_000_000), GREATEST_AGE_US);
        assert_eq!(aged(20_000), LEAST_AGE_US);
        // too few readings to know
        let mut once = ItemSeries::default();
        once.push(5, 1.0);
        assert_eq!(once.greatest_age_us(), GREATEST_AGE_US);
    }

    #[test]
    fn a_moment_holds_the_mean_or_what_was_known() {
        let mut step = ItemSeries::default();
        assert_eq!(step.close_moment(1_000_000), None);
        step.push(1_200_000, 2.0);
        step.push(1_800_000, 5.0);
        let known = step.close_moment(2_000_000).unwrap();
        assert_eq!((known.mean, known.last, known.fresh), (3.5, 5.0, 2));
        let held = step.close_moment(3_000_000).unwrap();
        assert_eq!((held.mean, held.last, held.fresh), (5.0, 5.0, 0));
        assert_eq!(step.close_moment(13_000_000), None);
    }
}
