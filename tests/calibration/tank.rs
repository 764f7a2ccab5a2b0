//! The tank over the trips of one car: how far it is emptied and filled, and when another fuel came.

use pintle::{cause::Cause, series::summary::Facts, simulator::car::trip::Trip};

use crate::dice::Dice;

/// Trips in their order, each with its level, and what else was counted when it began.
pub struct Tank {
    pub trips: Vec<Trip>,
    /// The first trip with the fuel that is the fault.
    pub fuel_from: usize,
    /// Minutes since the first trip began, minutes and kilometres since codes were cleared.
    started: Vec<[f64; 3]>,
}

impl Tank {
    /// Trips on the same tank empty it, a trip on another one comes after a filling. Half of the times when a tank was
    /// filled between the trips of a car with another fuel, that is when the fuel came.
    pub fn drawn(mut trips: Vec<Trip>, causes: &[Cause], dice: &mut Dice) -> Self {
        let (mut clock, mut minutes, mut km) = (
            0.0,
            dice.between(500.0, 20_000.0),
            dice.between(300.0, 15_000.0),
        );
        let mut level = trips[0].fuel_level_pct.clamp(20.0, 97.0);
        let mut started = Vec::new();
        let mut fillings = Vec::new();
        for index in 0..trips.len() {
            if index > 0 {
                let away = dice.log_between(15.0, 300.0);
                let driven = trips[index - 1].duration_us() as f64 / 60e6 + away / 4.0;
                (clock, minutes, km) = (clock + away + driven, minutes + driven, km + driven / 2.0);
                level = (level - driven / 4.0).max(5.0);
                if trips[index].period != trips[index - 1].period {
                    level = dice.between((level + 10.0).min(95.0), 98.0);
                    fillings.push(index);
                }
            }
            trips[index].fuel_level_pct = level;
            started.push([clock, minutes, km]);
        }
        let came = causes == [Cause::FuelBlend] && !fillings.is_empty() && dice.chance(0.5);
        Self {
            fuel_from: if came {
                fillings[dice.index(fillings.len())]
            } else {
                0
            },
            trips,
            started,
        }
    }

    /// What the canister holds when each trip begins: a stand fills it in part, a filling of the tank wholly.
    pub fn with_charges(mut self, dice: &mut Dice) -> Self {
        for index in 1..self.trips.len() {
            let filled = self.trips[index].period != self.trips[index - 1].period;
            self.trips[index].canister_charge = if filled {
                dice.between(0.8, 1.5)
            } else {
                dice.between(0.1, 1.0)
            };
        }
        self
    }

    /// What a capture of a trip tells: the simulated car draws its past anew for every trip.
    pub fn tell(&self, trip: usize, facts: &mut Facts) {
        let [clock, minutes, km] = self.started[trip];
        let first: jiff::Timestamp = "2026-03-02T08:00:00Z".parse().unwrap();
        facts.started = Some(first + jiff::SignedDuration::from_secs((60.0 * clock) as i64));
        facts.minutes_since_clear = facts.minutes_since_clear.map(|_| minutes.round());
        facts.km_since_clear = facts.km_since_clear.map(|_| km.round());
    }
}
