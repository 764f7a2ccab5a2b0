//! The one clock of a recording: real time at the car, simulated time when a simulated car may run faster than the clock.
//!
//! Simulated time moves only when somebody says so: the virtual adapter adds what an exchange takes on the wire, and
//! whoever would sleep adds the sleep.

use std::{
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
    time::{Duration, Instant},
};

/// Where the microseconds of a recording come from. Clones show the same time.
#[derive(Debug, Clone)]
pub enum Clock {
    /// The machine's monotonic clock, counted from the given instant.
    Real(Instant),
    /// Time that advances by [`Clock::advance_to`] and by sleeping only.
    Simulated(Arc<AtomicU64>),
}

impl Clock {
    /// Real time, starting at 0 now.
    pub fn real() -> Self {
        Self::Real(Instant::now())
    }

    /// Simulated time, standing at 0.
    pub fn simulated() -> Self {
        Self::Simulated(Arc::default())
    }

    /// Microseconds since the start; never goes back.
    pub fn now_us(&self) -> u64 {
        match self {
            Self::Real(start) => start.elapsed().as_micros() as u64,
            Self::Simulated(now) => now.load(Ordering::Acquire),
        }
    }

    /// Moves simulated time forward to `t_us`, never back; does nothing to real time.
    pub fn advance_to(&self, t_us: u64) {
        if let Self::Simulated(now) = self {
            now.fetch_max(t_us, Ordering::AcqRel);
        }
    }

    /// Waits until `t_us`: really, or by moving simulated time there.
    pub async fn sleep_until(&self, t_us: u64) {
        match self {
            Self::Real(start) => {
                tokio::time::sleep_until((*start + Duration::from_micros(t_us)).into()).await;
            }
            Self::Simulated(_) => self.advance_to(t_us),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn simulated_time_moves_only_forward_and_for_every_clone() {
        let clock = Clock::simulated();
        let other = clock.clone();
        clock.advance_to(500);
        other.advance_to(200);
        assert_eq!(other.now_us(), 500);
    }
}
