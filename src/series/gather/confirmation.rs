//! Readings of one misfire counter that wait for the next one to confirm them: a damaged answer must not count as
//! misfires.
//!
//! A counter only grows or restarts from zero. A leap is accepted, at its own time, once the next reading is at least
//! as high; a fall once the next reading stays below the value before it.

use crate::series::label::region::ByPart;

/// Growth up to which a counter's reading is accepted at once, misfires: an error so small does no harm (assumed).
const AT_ONCE: f64 = 5.0;

/// A counter's reading with the time at which it was taken, in revolutions.
#[derive(Debug, Clone, Copy)]
pub struct At {
    /// The counter's value.
    pub value: f64,
    /// Number of interruptions of counting before the reading.
    pub epoch: u32,
    /// Revolutions by region up to the reading.
    pub turned: ByPart<f64>,
}

/// Confirmed and unconfirmed readings of one counter.
#[derive(Debug, Clone, Default)]
pub struct Confirmation {
    believed: Option<f64>,
    doubted: Option<At>,
    /// Number of readings that the next ones did not confirm.
    pub dropped: u64,
}

impl Confirmation {
    /// Takes a reading; returns the readings that are now confirmed, in order.
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

    /// The reading still unconfirmed where there is no next one: growth is accepted.
    pub fn rest(&mut self) -> Option<At> {
        let before = self.believed?;
        self.doubted.take().filter(|doubted| doubted.value > before)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn believed(values: &[f64]) -> (Vec<f64>, u64) {
        let mut confirmation = Confirmation::default();
        let mut all = Vec::new();
        for value in values {
            let at = At {
                value: *value,
                epoch: 0,
                turned: ByPart::default(),
            };
            all.extend(confirmation.believed(at).map(|at| at.value));
        }
        all.extend(confirmation.rest().map(|at| at.value));
        (all, confirmation.dropped)
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
