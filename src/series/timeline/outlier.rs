//! Single readings that cannot be true: too far from the readings before and after for the time between.
//!
//! A damaged answer without a detectable transmission error gives such readings. One reading is never accepted against
//! both its neighbours; a step is accepted as soon as the next reading confirms it.

use crate::series::timeline::quantity::Quantity;

use Quantity as Q;

/// Largest change of a quantity from one reading to the next: at once (the car's own rounding, steps and noise), and in
/// addition per second. Physics and common practice, generous: an engine revved freely gains some 6000 rpm a second, no
/// tyre brakes with more than 1.2 times its weight (42 km/h in a second) but a wheel can lock, a manifold fills within
/// a tenth of a second, metal and water take long to warm.
const REACHES: [(Quantity, f64, f64); 15] = [
    (Q::EngineSpeed, 400.0, 8000.0),
    (Q::VehicleSpeed, 12.0, 60.0),
    (Q::Load, 20.0, 400.0),
    (Q::Coolant, 5.0, 3.0),
    (Q::ManifoldPressure, 15.0, 400.0),
    (Q::AirFlow, 15.0, 400.0),
    (Q::Spark, 15.0, 150.0),
    (Q::IntakeAir, 6.0, 3.0),
    (Q::Barometer, 2.0, 1.0),
    (Q::ShortTrim1, 10.0, 40.0),
    (Q::ShortTrim2, 10.0, 40.0),
    (Q::LongTrim1, 10.0, 20.0),
    (Q::LongTrim2, 10.0, 20.0),
    (Q::CommandedRatio, 0.3, 2.0),
    (Q::FuelLevel, 25.0, 25.0),
];

/// Valid fuel system states of PID 03: none, or one of five bits (SAE J1979).
const LOOP_STATES: [f64; 6] = [0.0, 1.0, 2.0, 4.0, 8.0, 16.0];

/// Time after which a reading says nothing about the next one, µs (assumed).
const LONGEST_US: u64 = 5_000_000;

/// Watches every quantity for readings that cannot be true.
#[derive(Debug, Clone)]
pub struct Outliers {
    tracks: [Track; Q::COUNT],
}

/// State of one quantity.
#[derive(Debug, Clone, Copy, Default)]
struct Track {
    reach: Option<(f64, f64)>,
    /// Time in µs and value of the last accepted reading.
    believed: Option<(u64, f64)>,
    /// Time in µs and value of a reading that waits for confirmation.
    doubted: Option<(u64, f64)>,
    dropped: u64,
}

impl Default for Outliers {
    fn default() -> Self {
        let mut tracks = [Track::default(); Q::COUNT];
        for (quantity, at_once, per_s) in REACHES {
            if let Some(track) = tracks.get_mut(quantity as usize) {
                track.reach = Some((at_once, per_s));
            }
        }
        Self { tracks }
    }
}

impl Outliers {
    /// Takes a reading of the quantity with this dense number; returns the values accepted now: a step that it
    /// confirms, and the reading itself.
    #[inline]
    pub fn believed(&mut self, number: usize, t_us: u64, value: f64) -> [Option<f64>; 2] {
        let Some(track) = self.tracks.get_mut(number) else {
            return [None; 2];
        };
        match track.reach {
            Some(reach) => track.believed(reach, t_us, value),
            None if is_loop_state(number) => [None, track.valid(value)],
            None => [None, Some(value)],
        }
    }

    /// Number of readings dropped, by dense number of their quantity.
    pub fn dropped(&self) -> impl Iterator<Item = (usize, u64)> {
        let counts = self.tracks.iter().map(|track| track.dropped).enumerate();
        counts.filter(|(_, dropped)| *dropped > 0)
    }
}

const fn is_loop_state(number: usize) -> bool {
    number == Q::LoopStatus1 as usize || number == Q::LoopStatus2 as usize
}

impl Track {
    #[inline]
    fn believed(&mut self, reach: (f64, f64), t_us: u64, value: f64) -> [Option<f64>; 2] {
        let now = (t_us, value);
        let doubted = self.doubted.take();
        let confirmed = doubted.filter(|doubted| follows(reach, *doubted, now));
        self.dropped += u64::from(doubted.is_some() && confirmed.is_none());
        let follows_believed = self
            .believed
            .is_none_or(|before| follows(reach, before, now));
        if !follows_believed && confirmed.is_none() {
            self.doubted = Some(now);
            return [None; 2];
        }
        self.believed = Some(now);
        [confirmed.map(|(_, value)| value), Some(value)]
    }

    fn valid(&mut self, value: f64) -> Option<f64> {
        let valid = LOOP_STATES.contains(&value);
        self.dropped += u64::from(!valid);
        valid.then_some(value)
    }
}

/// Whether one reading can follow another.
fn follows((at_once, per_s): (f64, f64), before: (u64, f64), now: (u64, f64)) -> bool {
    let time_us = now.0.saturating_sub(before.0);
    let reach = at_once + per_s * time_us as f64 / 1e6;
    time_us > LONGEST_US || (now.1 - before.1).abs() <= reach
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is believed of readings ten times a second, and how many are dropped.
    fn believed(quantity: Quantity, values: &[f64]) -> (Vec<f64>, u64) {
        let mut outliers = Outliers::default();
        let mut kept = Vec::new();
        for (tenth, value) in (0..).zip(values) {
            kept.extend(outliers.believed(quantity as usize, tenth * 100_000, *value));
        }
        let kept = kept.into_iter().flatten().collect();
        let dropped = outliers.dropped().map(|(_, dropped)| dropped).sum();
        (kept, dropped)
    }

    #[test]
    fn a_reading_away_from_both_its_neighbours_is_dropped() {
        let coolant = [90.0, 90.0, 26.0, 90.0, 91.0];
        assert_eq!(
            believed(Q::Coolant, &coolant),
            (vec![90.0, 90.0, 90.0, 91.0], 1)
        );
        let rpm = [750.0, 760.0, 4856.0, 755.0, 16_383.75, 9000.0, 748.0];
        assert_eq!(
            believed(Q::EngineSpeed, &rpm),
            (vec![750.0, 760.0, 755.0, 748.0], 3)
        );
        assert_eq!(
            believed(Q::LoopStatus1, &[2.0, 18.0, 2.0]),
            (vec![2.0, 2.0], 1)
        );
    }

    #[test]
    fn a_step_that_stays_is_believed_once_it_is_confirmed() {
        // a sensor whose wire breaks
        let coolant = [90.0, 90.0, -40.0, -40.0, -40.0];
        assert_eq!(believed(Q::Coolant, &coolant), (coolant.to_vec(), 0));
    }

    #[test]
    fn what_an_engine_can_do_is_believed() {
        // revved freely, and the throttle snapped open
        let rpm: Vec<f64> = (0..8)
            .map(|tenth| 750.0 + 650.0 * f64::from(tenth))
            .collect();
        assert_eq!(believed(Q::EngineSpeed, &rpm), (rpm, 0));
        let kpa = [30.0, 32.0, 70.0, 98.0, 97.0, 60.0, 31.0];
        assert_eq!(believed(Q::ManifoldPressure, &kpa), (kpa.to_vec(), 0));
    }

    // An engine that starts: load goes up by 51.8 points within 75 ms, where 50 are allowed, and then falls slowly.
    #[test]
    fn a_jump_that_the_next_reading_confirms_is_believed() {
        let mut outliers = Outliers::default();
        let kept = [(245_000, 0.0), (320_000, 51.8), (394_000, 47.5)]
            .map(|(t_us, value)| outliers.believed(Q::Load as usize, t_us, value));
        assert_eq!(
            kept,
            [[None, Some(0.0)], [None, None], [Some(51.8), Some(47.5)]]
        );
        assert_eq!(outliers.dropped().count(), 0);
    }

    #[test]
    fn after_a_pause_anything_is_believed() {
        let mut outliers = Outliers::default();
        for (t_us, value) in [(0, 20.0), (6_000_000, 90.0)] {
            let believed = outliers.believed(Q::Coolant as usize, t_us, value);
            assert_eq!(believed, [None, Some(value)]);
        }
    }
}
