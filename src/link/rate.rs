//! How many a second, lately.

use std::collections::VecDeque;

/// What "lately" means, µs.
const WINDOW_US: u64 = 3_000_000;

/// Counts what happened in the last three seconds.
#[derive(Debug, Default)]
pub(super) struct Rate {
    times_us: VecDeque<u64>,
}

impl Rate {
    /// Something happened.
    pub fn count(&mut self, at_us: u64) {
        self.times_us.push_back(at_us);
        self.forget(at_us);
    }

    /// How many a second; over the time since the first while that is shorter than the window.
    pub fn per_second(&mut self, now_us: u64) -> f64 {
        self.forget(now_us);
        let Some(first_us) = self.times_us.front() else {
            return 0.0;
        };
        let span_us = now_us.saturating_sub(*first_us).max(WINDOW_US / 3);
        self.times_us.len() as f64 * 1e6 / span_us as f64
    }

    fn forget(&mut self, now_us: u64) {
        let old = |at_us: &u64| at_us.saturating_add(WINDOW_US) < now_us;
        while self.times_us.front().is_some_and(old) {
            self.times_us.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_last_seconds_count() {
        let mut rate = Rate::default();
        assert_eq!(rate.per_second(5), 0.0);
        for step in 0..100 {
            rate.count(step * 100_000);
        }
        let steady = rate.per_second(9_900_000);
        assert!((9.5..11.0).contains(&steady), "{steady}");
        assert_eq!(rate.per_second(60_000_000), 0.0);
    }
}
