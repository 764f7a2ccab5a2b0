//! One examined car: what is wrong with it, what of that could be seen, and what was recorded.

use pintle::{
    cause::Cause,
    series::{label::region::Region, summary::Summary},
    simulator::car::{Car, Steady, fault::Fault, fleet::CarSpec, nature::Nature, trip::Trip},
    vehicle::Vehicle,
};
use serde::{Deserialize, Serialize};

use crate::{
    cars,
    dice::Dice,
    drivers, faults,
    loggers::{self, Counters},
    occasion::{Occasion, felt},
    tank::Tank,
    watch,
};

/// An examined car.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Case {
    /// What is wrong; two entries for a pair.
    pub causes: Vec<Cause>,
    /// Its size, in the quantity of the first cause; of dirt on several banks the mean.
    pub severity: Option<f64>,
    /// Cylinder and bank of the first cause, where it has them.
    pub cylinder: Option<u8>,
    pub bank: Option<u8>,
    /// What the faults truly do.
    pub effect: Effect,
    /// Seconds of each region that counted, over all captures.
    pub recorded_s: [f64; 4],
    /// Revolutions of each region during which counters were watched.
    pub watched_rev: [f64; 4],
    pub cylinders: usize,
    pub counters: Counters,
    pub simulated_s: f64,
    pub vehicle: Vehicle,
    pub summaries: Vec<Summary>,
}

/// A drawn car before anybody has driven it.
pub struct DrawnCar {
    pub spec: CarSpec,
    pub nature: Nature,
    /// What is wrong, each cause by itself.
    pub faults: Vec<Vec<Fault>>,
    seed: u64,
}

impl DrawnCar {
    /// The `index`th car with a fault or a pair, and the stream from which the rest of its case is drawn.
    pub fn new(occasion: Occasion, causes: &[Cause], index: u64, seed: u64) -> (Self, Dice) {
        let mut dice = Dice::new(mixed(causes, index, seed));
        let two_banks = causes.iter().any(|cause| faults::parts_banks(*cause));
        let spec = cars::drawing(&mut dice, two_banks);
        let nature = cars::nature(&mut dice);
        let mut rail = own_stream(RAIL, causes, index, seed);
        let (spec, mut nature) = cars::with_rail(spec, nature, &mut rail);
        nature.faults.purge_hangs = own_stream(PURGE, causes, index, seed).chance(0.5);
        let each = causes
            .iter()
            .map(|cause| faults::draw(*cause, &spec, &mut dice));
        let faults = each.collect();
        let mut car = Self {
            spec,
            nature,
            faults,
            seed: dice.seed(),
        };
        if occasion == Occasion::Visit {
            let mut dice = own_stream(VISIT, causes, index, seed);
            let felt = causes.iter().map(|cause| car.felt_fault(*cause, &mut dice));
            car.faults = felt.collect();
        }
        let mut own = own_stream(DIRT, causes, index, seed);
        let spread = cars::dirt_of_a_bank(&car.spec, &car.nature, &mut own);
        for of_cause in &mut car.faults {
            faults::part_dirt(of_cause, spread, &mut own);
        }
        (car, dice)
    }

    /// A fault that brings the car in; one that never does (a leak that the air is metered behind) in the largest size.
    fn felt_fault(&self, cause: Cause, dice: &mut Dice) -> Vec<Fault> {
        let trip = Trip::warm(0);
        let sound = self.with(&[], &trip).steady();
        let mut most = (0.0, Vec::new());
        for _ in 0..SIZES_TRIED {
            let faults = faults::draw(cause, &self.spec, dice);
            let felt = felt(&self.with(&faults, &trip).steady(), &sound);
            if felt >= most.0 {
                most = (felt, faults);
            }
            if felt >= 1.0 {
                break;
            }
        }
        most.1
    }

    /// On a trip, with all its faults.
    pub fn driven(&self, trip: &Trip) -> Car {
        self.with(&self.faults.concat(), trip)
    }

    fn with(&self, faults: &[Fault], trip: &Trip) -> Car {
        Car::of_nature(&self.spec, self.nature, faults, trip.clone(), self.seed).unwrap()
    }
}

/// Draws the `index`th case of a fault or a pair.
pub fn draw(occasion: Occasion, causes: &[Cause], index: u64, seed: u64) -> Case {
    let (mut car, mut dice) = DrawnCar::new(occasion, causes, index, seed);
    let spec = &car.spec;
    let mut rail = own_stream(RAIL_ASKED, causes, index, seed);
    let (logger, vehicle, trips) = match occasion {
        Occasion::Any => (
            loggers::logger(spec, &mut dice).with_rail(spec, 0.5, &mut rail),
            cars::vehicle_file(spec, &mut dice),
            drivers::trips(&mut dice),
        ),
        Occasion::Visit => (
            loggers::whole(spec, &mut dice).with_rail(spec, 1.0, &mut rail),
            spec.vehicle(),
            drivers::guided(&mut dice),
        ),
    };
    let mut own = own_stream(TANK, causes, index, seed);
    let tank = Tank::drawn(trips, causes, &mut own)
        .with_charges(&mut own_stream(CHARGE, causes, index, seed));
    let trips = &tank.trips;
    let stuck = causes.contains(&Cause::PurgeStuck);
    let first_s = trips[0].duration_us() as f64 / 1e6;
    let mut own = own_stream(CANISTER, causes, index, seed);
    car.nature = cars::with_canister(car.nature, stuck, first_s, &mut own);
    let (spec, each) = (&car.spec, &car.faults);
    let effect = effect(
        &car.driven(&trips[0]).steady(),
        &car.with(&[], &trips[0]).steady(),
    );
    let watched = |(index, trip): (usize, &Trip)| {
        // a fuel that came later was not there yet
        let faults = if index < tank.fuel_from {
            Vec::new()
        } else {
            each.concat()
        };
        let mut summary = watch::watched(car.with(&faults, trip), &logger);
        tank.tell(index, &mut summary.facts);
        // a finding does not look at the cells
        summary.cells.clear();
        summary
    };
    let summaries: Vec<Summary> = trips.iter().enumerate().map(watched).collect();
    let first = each.first().and_then(|faults| faults.first());
    let everywhere = each.first().is_some_and(|faults| faults.len() > 1);
    let sizes = each.iter().take(1).flatten().map(|fault| fault.severity);
    let size = sizes.clone().sum::<f64>() / sizes.count().max(1) as f64;
    let place = first.and_then(|fault| fault.place).filter(|_| !everywhere);
    let by_cylinder = causes[0].scope() == pintle::cause::Scope::Cylinder;
    let cylinder = place.filter(|_| by_cylinder);
    Case {
        causes: causes.to_vec(),
        severity: faults::sizes(causes[0]).map(|_| size),
        cylinder,
        bank: cylinder.map_or(place, |number| Some(bank_of(spec, number))),
        effect,
        recorded_s: Region::ALL.map(|region| recorded_s(&summaries, region)),
        watched_rev: Region::ALL.map(|region| watched_rev(&summaries, region)),
        cylinders: spec.cylinder_count(),
        counters: logger.counters,
        simulated_s: trips
            .iter()
            .map(|trip| trip.duration_us() as f64 / 1e6)
            .sum(),
        vehicle,
        summaries,
    }
}

/// What is drawn from streams of its own, so that the rest of a case does not depend on it.
const RAIL: u64 = 1;
const RAIL_ASKED: u64 = 2;
const PURGE: u64 = 3;
const TANK: u64 = 4;
const VISIT: u64 = 5;
const DIRT: u64 = 6;
const CANISTER: u64 = 7;
const CHARGE: u64 = 8;

/// So many sizes are drawn for one that brings the car in.
const SIZES_TRIED: usize = 25;

fn own_stream(of: u64, causes: &[Cause], index: u64, seed: u64) -> Dice {
    Dice::new(mixed(causes, index, seed ^ of.rotate_left(32)))
}

/// Every case has a stream of its own.
pub fn mixed(causes: &[Cause], index: u64, seed: u64) -> u64 {
    let words = causes.iter().map(|cause| *cause as u64 + 1);
    words
        .chain([index, seed])
        .fold(0x9E37_79B9_7F4A_7C15, |sum, word| {
            let mixed = (sum ^ word).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            mixed ^ (mixed >> 29)
        })
}

fn bank_of(spec: &CarSpec, cylinder: u8) -> u8 {
    let bank = spec.banks.iter().position(|bank| bank.contains(&cylinder));
    1 + bank.unwrap() as u8
}

/// What faults truly do at the four points of operation.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Effect {
    /// Change of each bank's correction, as its natural logarithm.
    pub trim_log: Vec<[f64; 4]>,
    /// Greatest change of any cylinder's failing share.
    pub failing: [f64; 4],
}

fn effect(with: &Steady, without: &Steady) -> Effect {
    let banks = with.fuel_trims.iter().zip(&without.fuel_trims);
    let failing = |point: usize| {
        let pairs = with.failing.iter().zip(&without.failing);
        let more = pairs.map(|((_, a), (_, b))| a[point] - b[point]);
        more.fold(0.0, f64::max)
    };
    Effect {
        trim_log: banks
            .map(|(a, b)| [0, 1, 2, 3].map(|point| a[point] - b[point]))
            .collect(),
        failing: [0, 1, 2, 3].map(failing),
    }
}

/// Seconds of a region that counted, over all captures.
fn recorded_s(summaries: &[Summary], region: Region) -> f64 {
    let longest = |summary: &Summary| {
        let here = summary.trims.iter().filter(|trim| trim.region == region);
        here.map(|trim| trim.seconds).fold(0.0, f64::max)
    };
    summaries.iter().map(longest).sum()
}

fn watched_rev(summaries: &[Summary], region: Region) -> f64 {
    let watched = summaries.iter().filter_map(|s| s.misfires.as_ref());
    watched.map(|m| m.revolutions_by_region[region]).sum()
}
