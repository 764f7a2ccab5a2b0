//! The order of times in a capture: they never go back, and one damaged digit must not spoil what follows.

/// Longest believable pause between two rows, µs (one day): a time beyond it must be confirmed by the next row.
const LONGEST_PAUSE_US: u64 = 86_400_000_000;

/// Watches the times of rows, one after another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Times {
    last_us: u64,
    /// A time so far ahead that it was not believed yet.
    doubted_us: Option<u64>,
    /// Whatever comes next is believed.
    anywhere: bool,
}

impl Times {
    /// At the start of a capture.
    pub const fn from_start() -> Self {
        Self {
            last_us: 0,
            doubted_us: None,
            anywhere: false,
        }
    }

    /// Somewhere inside a capture.
    pub const fn from_anywhere() -> Self {
        Self {
            anywhere: true,
            ..Self::from_start()
        }
    }

    /// Accepts the next row's time or says what is wrong with it.
    #[inline]
    pub fn check(&mut self, t_us: u64) -> Result<(), &'static str> {
        if self.continues(t_us) {
            self.last_us = t_us;
            return Ok(());
        }
        self.check_odd(t_us)
    }

    /// Whether a row of this time follows without any doubt.
    #[inline]
    pub const fn continues(&self, t_us: u64) -> bool {
        let undoubted = self.doubted_us.is_none() && !self.anywhere;
        undoubted && t_us >= self.last_us && t_us - self.last_us <= LONGEST_PAUSE_US
    }

    #[cold]
    fn check_odd(&mut self, t_us: u64) -> Result<(), &'static str> {
        let after = |earlier: u64| t_us >= earlier && t_us - earlier <= LONGEST_PAUSE_US;
        let doubted = self.doubted_us.take();
        if self.anywhere || doubted.is_some_and(after) || after(self.last_us) {
            self.anywhere = false;
            self.last_us = t_us;
            return Ok(());
        }
        if t_us < self.last_us {
            return Err("the time goes back");
        }
        self.doubted_us = Some(t_us);
        Err("the time jumps by more than a day")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn accepted(times: &[u64]) -> Vec<u64> {
        let mut watch = Times::from_start();
        times
            .iter()
            .copied()
            .filter(|t_us| watch.check(*t_us).is_ok())
            .collect()
    }

    #[test]
    fn a_time_that_goes_back_is_not_accepted() {
        assert_eq!(accepted(&[5, 5, 3, 8]), [5, 5, 8]);
    }

    #[test]
    fn a_damaged_digit_does_not_spoil_what_follows() {
        let day = LONGEST_PAUSE_US;
        assert_eq!(accepted(&[5, 9 * day, 6, 7]), [5, 6, 7]);
    }

    #[test]
    fn a_long_pause_is_believed_once_it_is_confirmed() {
        let day = LONGEST_PAUSE_US;
        assert_eq!(accepted(&[5, 2 * day, 2 * day + 1, 6]), [5, 2 * day + 1]);
        let mut inside = Times::from_anywhere();
        assert!(inside.check(9 * day).is_ok());
        assert!(inside.check(8 * day).is_err());
    }
}
