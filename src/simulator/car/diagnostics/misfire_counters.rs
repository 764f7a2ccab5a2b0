//! Counters of misfires by cylinder, as service 06 reports them.

use crate::simulator::car::fleet::CarSpec;

/// The counters of one engine.
#[derive(Debug, Clone)]
pub struct MisfireCounters {
    cylinders: Vec<Counter>,
    block_rev: f64,
    since_block_rev: f64,
}

/// One cylinder's.
#[derive(Debug, Clone)]
struct Counter {
    number: u8,
    /// Counted in this driving cycle.
    counted: u32,
    /// Counted and already shown.
    shown: u32,
    /// Average of the last ten driving cycles.
    average: f64,
}

impl MisfireCounters {
    /// Counters at the beginning of a driving cycle; `typical` gives what earlier cycles counted for a cylinder.
    pub fn new(spec: &CarSpec, typical: impl Fn(u8) -> f64) -> Self {
        let mut cylinders: Vec<Counter> = spec
            .banks
            .iter()
            .flat_map(|bank| bank.iter())
            .map(|number| Counter {
                number: *number,
                counted: 0,
                shown: 0,
                average: typical(*number),
            })
            .collect();
        cylinders.sort_by_key(|counter| counter.number);
        Self {
            cylinders,
            block_rev: spec.counter_block_rev,
            since_block_rev: 0.0,
        }
    }

    /// Counts misfires (one cylinder number each) and turns on by `revolutions`.
    pub fn count(&mut self, misfires: &[u8], revolutions: f64) {
        for number in misfires {
            let counter = self
                .cylinders
                .iter_mut()
                .find(|counter| counter.number == *number);
            if let Some(counter) = counter {
                counter.counted = counter.counted.saturating_add(1);
            }
        }
        self.since_block_rev += revolutions;
        if self.since_block_rev >= self.block_rev {
            self.since_block_rev = 0.0;
            self.cylinders
                .iter_mut()
                .for_each(|counter| counter.shown = counter.counted);
        }
    }

    /// Starts a new driving cycle: the average takes one part in ten of the cycle that ends.
    pub fn new_cycle(&mut self) {
        for counter in &mut self.cylinders {
            counter.average = 0.1 * f64::from(counter.counted) + 0.9 * counter.average;
            (counter.counted, counter.shown) = (0, 0);
        }
    }

    /// Forgets everything, as after clearing codes.
    pub fn clear(&mut self) {
        for counter in &mut self.cylinders {
            (counter.counted, counter.shown, counter.average) = (0, 0, 0.0);
        }
    }

    /// Number of cylinders.
    pub fn len(&self) -> usize {
        self.cylinders.len()
    }

    /// Average of ten cycles and count of this cycle for a cylinder, as shown: they stop at 65535.
    pub fn of(&self, number: u8) -> Option<(u16, u16)> {
        let counter = self
            .cylinders
            .iter()
            .find(|counter| counter.number == number)?;
        let average = counter.average.round().clamp(0.0, 65535.0) as u16;
        Some((average, counter.shown.min(65535) as u16))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::fleet;

    #[test]
    fn counters_count_average_over_cycles_and_stop_at_their_end() {
        let mut counters = MisfireCounters::new(fleet::car("van3").unwrap(), |_| 100.0);
        counters.count(&[3, 3, 1], 1.0);
        assert_eq!(
            (counters.of(3), counters.of(4)),
            (Some((100, 2)), Some((100, 0)))
        );
        counters.new_cycle();
        // 0.1 × current + 0.9 × previous (a maker's page in the trade figures).
        assert_eq!(counters.of(3), Some((90, 0)));
        for _ in 0..70 {
            counters.count(&[2; 1000], 1.0);
        }
        assert_eq!(counters.of(2), Some((90, 65535)));
        assert_eq!(counters.of(5), None);
    }

    #[test]
    fn counters_that_move_in_blocks_wait_for_their_revolutions() {
        let mut counters = MisfireCounters::new(fleet::car("pickup1").unwrap(), |_| 0.0);
        counters.count(&[8], 150.0);
        assert_eq!(counters.of(8), Some((0, 0)));
        counters.count(&[], 60.0);
        assert_eq!(counters.of(8), Some((0, 1)));
    }
}
