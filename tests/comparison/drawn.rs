//! Drawn cars on drawn trips, watched without an adapter. They wander between trips as the one real car does.

use pintle::{
    cause::Cause,
    series::summary::Summary,
    simulator::car::{
        Car,
        fault::Fault,
        fleet::CarSpec,
        nature::{Nature, WanderSizes},
        trip::Trip,
    },
};

use crate::{
    cars,
    dice::Dice,
    loggers::{self, Counters, Logger},
    watch,
};

/// As the real car wanders from trip to trip: 2.0 points a region with everyday refuelling, 1.4 without its steps, of which
/// trips close in time share 0.9; idle against cruise 1.1.
const AS_THE_REAL_CAR: WanderSizes = WanderSizes {
    period: 0.009,
    trip: 0.011,
    contrast: 0.0095,
    drift: 0.010,
    bank_drift: 0.002,
    settling: WanderSizes::USUAL.settling,
    refuel: (0.15, 0.025),
};

/// A car, its owner's logger, and its tank.
pub struct Drawn {
    pub spec: CarSpec,
    nature: Nature,
    logger: Logger,
    seed: u64,
    level_pct: f64,
    period: u64,
    /// Minutes and kilometres since codes were cleared.
    minutes: f64,
    km: f64,
}

impl Drawn {
    pub fn new(dice: &mut Dice, two_banks: bool) -> Self {
        let spec = cars::drawing(dice, two_banks);
        let nature = cars::nature(dice);
        Self {
            nature: Nature {
                wander: WanderSizes {
                    drift: nature.wander.drift,
                    bank_drift: nature.wander.bank_drift,
                    ..AS_THE_REAL_CAR
                },
                ..nature
            },
            logger: loggers::logger(&spec, dice),
            seed: dice.seed(),
            level_pct: dice.between(30.0, 90.0),
            period: dice.seed(),
            minutes: dice.between(500.0, 20_000.0),
            km: dice.between(300.0, 15_000.0),
            spec,
        }
    }

    /// With misfire counters that count.
    pub fn with_counters(mut self) -> Self {
        self.logger.counters = Counters::Live;
        self
    }

    /// Filled up with the next fuel.
    pub fn refuel(&mut self, dice: &mut Dice) {
        self.level_pct = dice.between(85.0, 98.0);
        self.period = dice.seed();
    }

    /// Runs unwatched for so many minutes, at 30 km/h.
    pub fn run(&mut self, minutes: f64) {
        self.level_pct = (self.level_pct - minutes / 4.0).max(8.0);
        self.minutes += minutes;
        self.km += minutes / 2.0;
    }

    /// Filled up with another fuel to the level that there was before, however long it ran.
    pub fn refuel_unseen(&mut self, dice: &mut Dice) {
        let level_pct = self.level_pct;
        self.run(dice.log_between(60.0, 1000.0));
        self.level_pct = level_pct;
        self.period = dice.seed();
    }

    /// One trip on what is in the tank.
    pub fn drive(&mut self, trip: Trip, faults: &[Fault]) -> Summary {
        let started = (self.minutes, self.km);
        let trip = Trip {
            period: self.period,
            fuel_level_pct: self.level_pct,
            ..trip
        };
        self.run(trip.duration_us() as f64 / 60e6);
        let car = Car::of_nature(&self.spec, self.nature, faults, trip, self.seed).unwrap();
        let mut summary = watch::watched(car, &self.logger);
        let facts = &mut summary.facts;
        // the simulated car draws its past anew for every trip
        facts.minutes_since_clear = facts.minutes_since_clear.map(|_| started.0.round());
        facts.km_since_clear = facts.km_since_clear.map(|_| started.1.round());
        summary
    }

    /// What faults truly do to bank 1's correction, mean of idle and cruise, in logarithms.
    fn effect(&self, faults: &[Fault], trip: &Trip) -> f64 {
        let steady = |faults: &[Fault]| {
            let car = Car::of_nature(&self.spec, self.nature, faults, trip.clone(), self.seed);
            car.unwrap().steady()
        };
        let (with, without) = (steady(faults), steady(&[]));
        let [idle, _, cruise, _] =
            [0, 1, 2, 3].map(|at| with.fuel_trims[0][at] - without.fuel_trims[0][at]);
        (idle + cruise) / 2.0
    }

    /// Whether the sound car's own correction lies within two points of zero at idle and cruise, and its banks within one of
    /// each other: only then does a change by so many points end near zero.
    pub fn is_near_zero(&self, trip: &Trip) -> bool {
        let car = Car::of_nature(&self.spec, self.nature, &[], trip.clone(), self.seed);
        let steady = car.unwrap().steady();
        let mean = |bank: &[f64; 4]| 50.0 * (bank[0] + bank[2]);
        let first = mean(&steady.fuel_trims[0]);
        first.abs() <= 2.0
            && steady
                .fuel_trims
                .iter()
                .all(|bank| (mean(bank) - first).abs() <= 1.0)
    }

    /// Dirt on bank 1 that raises its correction by so many points.
    pub fn dirt(&self, points: f64, trip: &Trip) -> Vec<Fault> {
        let of = |severity| Fault {
            cause: Cause::InjectorsRestrictedSeveral,
            place: Some(1),
            severity,
        };
        let wanted = (points / 100.0).ln_1p();
        let (mut low, mut high) = (0.1, 40.0);
        for _ in 0..30 {
            let middle = (low + high) / 2.0;
            if self.effect(&[of(middle)], trip) < wanted {
                low = middle
            } else {
                high = middle
            }
        }
        vec![of(low)]
    }
}
