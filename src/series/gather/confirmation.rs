//! Readings of one misfire counter that wait for the next to confirm them: a damaged answer must not count as misfires.
//!
//! A counter only grows, or begins anew from nothing. A leap is believed, in its own place, once the next reading stands
//! at least as high; a fall once the next reading stays below what was there before.

use crate::series::label::region::ByPart;

/// A counter that grows by no more than this is believed at once: damage so small does no harm.
const AT_ONCE: f64 = 5.0;

/// A counter's reading with the place in which it was taken.
#[derive(Debug, Clone, Copy)]
pub struct At {
    /// What the counter says.
    pub value: f64,
    /// How many times counting was broken off before.
    pub epoch: u32,
    /// Revolutions turned by then.
    pub turned: ByPart<f64>,
}

/// What one counter said, and what is not sure of it.
#[derive(Debug, Clone, Default)]
pub struct Doubt {
    believed: Option<f64>,
    doubted: Option<At>,
    /// Readings that the next ones did not confirm.
    pub dropped: u64,
}

impl Doubt {
    /// Takes a reading; gives what can be believed now, in order.
    pub fn believed(&mut self, now: At) -> impl Iterator<Item = At> + use<> {
        let doubted = self.doubted.take();
        let before = self.believed.unwrap_or(now.value);
        let confirmed = doubted.filter(|doubted| {
            if doubted.value > before {
                now.value >= doubted.value
            } else {
                (doubted.value..before).contains(&now.value)
            }
        });
        self.dropped += u64::from(doubted.is_some() && confirmed.is_none());
        let little = (0.0..=AT_ONCE).contains(&(now.value - before));
        let fits = confirmed.is_some() || little;
        if fits {
            self.believed = Some(now.value)
        } else {
            self.doubted = Some(now)
        }
        confirmed.into_iter().chain(fits.then_some(now))
    }

    /// What was still to be confirmed when there is no next reading: growth is believed.
    pub fn rest(&mut self) -> Option<At> {
        let before = self.believed?;
        self.doubted.take().filter(|doubted| doubted.value > before)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn believed(values: &[f64]) -> (Vec<f64>, u64) {
        let mut doubt = Doubt::default();
        let mut all = Vec::new();
        for value in values {
            let at = At {
                value: *value,
                epoch: 0,
                turned: ByPart::default(),
            };
            all.extend(doubt.believed(at).map(|at| at.value));
        }
        all.extend(doubt.rest().map(|at| at.value));
        (all, doubt.dropped)
    }

    #[test]
    fn a_leap_that_the_next_reading_does_not_confirm_is_dropped() {
        assert_eq!(believed(&[3.0, 4099.0, 4.0, 4.0]), (vec![3.0, 4.0, 4.0], 1));
        assert_eq!(
            believed(&[19.0, 3.0, 19.0, 20.0]),
            (vec![19.0, 19.0, 20.0], 1)
        );
    }

    #[test]
    fn a_dead_cylinder_and_a_new_cycle_are_believed_to_the_last_count() {
        let dead: Vec<f64> = (0..9).map(|reading| 20.0 * f64::from(reading)).collect();
        assert_eq!(believed(&dead), (dead, 0));
        let anew = [500.0, 0.0, 0.0, 2.0];
        assert_eq!(believed(&anew), (anew.to_vec(), 0));
    }
}
