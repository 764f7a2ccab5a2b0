//! How a car is driven: a schedule of stretches, the weather, and what happened to the car before.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// One drive (or none) with a car.
#[derive(Debug, Clone, PartialEq)]
pub struct Trip {
    /// Draws everything that differs from trip to trip.
    pub seed: u64,
    /// Tankful: trips of the same period share fuel and weather. The constructors give each seed its own period.
    pub period: u64,
    /// Coolant temperature when the key is turned, °C.
    pub coolant_c: f64,
    /// Air temperature, °C.
    pub ambient_c: f64,
    /// Barometric pressure, kPa.
    pub barometer_kpa: f64,
    /// Fuel in the tank, percent.
    pub fuel_level_pct: f64,
    /// What the charcoal canister holds when the key is turned, against what such a one usually holds.
    pub canister_charge: f64,
    /// Whether the air-conditioning compressor cycles.
    pub compressor: bool,
    /// Whether codes and long trims were cleared just before.
    pub cleared: bool,
    /// What is driven, one after the other; after the last the engine goes on idling, or stays off if it never ran.
    pub stretches: Vec<Stretch>,
}

/// A part of a trip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// What the driver does.
    pub driving: Driving,
    /// For how long, in seconds.
    pub seconds: f64,
}

/// What the driver does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Driving {
    /// Key on, engine off.
    Parked,
    /// Foot off, coming to a stand.
    Idle,
    /// Standing, engine held at a speed.
    Hold {
        /// Engine speed, rpm.
        rpm: f64,
    },
    /// On the road.
    Road {
        /// Wanted road speed, km/h.
        km_h: f64,
        /// Climb, percent.
        grade_pct: f64,
    },
}

impl Trip {
    /// The usual test drive of twelve to twenty minutes on a warm engine: idle, 2500 rpm held, road with cruise, hills and overrun,
    /// idle.
    pub fn warm(seed: u64) -> Self {
        let mut plan = Plan::new(seed, 86.0);
        plan.add(Driving::Parked, 2.0);
        plan.add(Driving::Idle, 240.0);
        plan.add(Driving::Hold { rpm: 2500.0 }, 150.0);
        plan.road(4);
        plan.add(Driving::Idle, 150.0);
        plan.trip
    }

    /// The usual test drive after a cold start: idle and gentle driving until the engine is warm come first.
    pub fn cold(seed: u64) -> Self {
        let mut plan = Plan::new(seed, 16.0);
        plan.trip.coolant_c = plan.trip.ambient_c;
        plan.add(Driving::Parked, 2.0);
        plan.add(Driving::Idle, 60.0);
        plan.road(3);
        plan.add(Driving::Idle, 240.0);
        plan.add(Driving::Hold { rpm: 2500.0 }, 150.0);
        plan.road(3);
        plan.add(Driving::Idle, 120.0);
        plan.trip
    }

    /// A drive of about five minutes on a warm engine that visits every kind of stretch: for tests.
    pub fn short(seed: u64) -> Self {
        let mut plan = Plan::new(seed, 88.0);
        plan.add(Driving::Parked, 1.0);
        plan.add(Driving::Idle, 80.0);
        plan.add(Driving::Hold { rpm: 2500.0 }, 60.0);
        plan.road(1);
        plan.trip
    }

    /// Standing with the key on and the engine off.
    pub fn parked(seed: u64) -> Self {
        let mut plan = Plan::new(seed, 60.0);
        plan.add(Driving::Parked, 600.0);
        plan.trip
    }

    /// Length of the schedule in microseconds.
    pub fn duration_us(&self) -> u64 {
        let seconds: f64 = self.stretches.iter().map(|stretch| stretch.seconds).sum();
        (seconds * 1e6) as u64
    }

    /// What the driver does `t_s` seconds after the start.
    pub(super) fn driving_at(&self, t_s: f64) -> Driving {
        let mut end = 0.0;
        let now = self.stretches.iter().find(|stretch| {
            end += stretch.seconds;
            t_s < end
        });
        let runs = || {
            let parked = |stretch: &Stretch| stretch.driving == Driving::Parked;
            !self.stretches.iter().all(parked)
        };
        match now {
            Some(stretch) => stretch.driving,
            None if runs() => Driving::Idle,
            None => Driving::Parked,
        }
    }
}

/// A trip being put together.
struct Plan {
    trip: Trip,
    random: Pcg64Mcg,
}

impl Plan {
    fn new(seed: u64, coolant_c: f64) -> Self {
        let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x7472_6970);
        let trip = Trip {
            seed,
            period: seed,
            coolant_c,
            ambient_c: random.random_range(8.0..28.0),
            barometer_kpa: random.random_range(97.0..102.0),
            fuel_level_pct: random.random_range(25.0..95.0),
            canister_charge: 1.0,
            compressor: random.random_bool(0.5),
            cleared: false,
            stretches: Vec::new(),
        };
        Self { trip, random }
    }

    /// Adds a stretch that lasts about `seconds`.
    fn add(&mut self, driving: Driving, seconds: f64) {
        let seconds = seconds * self.random.random_range(0.9..1.15);
        self.trip.stretches.push(Stretch { driving, seconds });
    }

    /// Adds rounds of town, cruise, a pull uphill, overrun downhill and a stop; about two and a half minutes a round.
    fn road(&mut self, rounds: usize) {
        for _ in 0..rounds {
            let town = self.random.random_range(40.0..52.0);
            let cruise = self.random.random_range(60.0..82.0);
            let climb = self.random.random_range(2.6..4.6);
            let road = |km_h, grade_pct| Driving::Road { km_h, grade_pct };
            self.add(road(town, 0.0), 30.0);
            self.add(road(cruise, 0.1), 52.0);
            self.add(road(cruise, climb), 34.0);
            self.add(road(cruise * 0.8, -3.0), 12.0);
            self.add(road(town, 0.2), 18.0);
            self.add(Driving::Idle, 14.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_drive_lasts_twelve_to_twenty_minutes_and_visits_everything() {
        for seed in 0..20 {
            for trip in [Trip::warm(seed), Trip::cold(seed)] {
                let minutes = trip.duration_us() as f64 / 60e6;
                assert!((12.0..=30.0).contains(&minutes), "{minutes}");
                let visits = |wanted: fn(&Driving) -> bool| {
                    trip.stretches
                        .iter()
                        .any(|stretch| wanted(&stretch.driving))
                };
                assert!(visits(|driving| *driving == Driving::Idle));
                assert!(visits(|driving| matches!(driving, Driving::Hold { .. })));
                assert!(visits(|driving| matches!(driving, Driving::Road { .. })));
            }
        }
    }

    #[test]
    fn after_the_schedule_the_engine_idles_and_a_parked_car_stays_parked() {
        assert_eq!(Trip::short(1).driving_at(1e5), Driving::Idle);
        assert_eq!(Trip::parked(1).driving_at(1e5), Driving::Parked);
        assert_eq!(Trip::warm(1).driving_at(0.0), Driving::Parked);
    }
}
