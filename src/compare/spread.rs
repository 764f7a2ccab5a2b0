//! How far trips of an unchanged car wander, so that a difference of two sides is held against what a car does by
//! itself.
//!
//! One trip is one draw. The defaults are those of [`variation`]. When a side has several captures, their own spread is
//! weighed in.

use crate::series::{label::region::Region, summary::Summary, variation};

use super::tank;

/// Standard deviations of y = ln C (0.01 is one point).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// All trips of a side together.
    pub side: f64,
    /// One trip, all regions alike.
    pub trip: f64,
    /// One trip in one region beside that.
    pub region: f64,
    /// Largest share of the tank that can be new to any trip against any other, 0 to 1; it is in `trip`.
    pub new_fuel: f64,
    /// Degrees of freedom by which the captures' own spread was weighed in; 0 for the default alone.
    pub freedom: f64,
}

/// Trips that the default counts for beside the captures' own.
const DEFAULT_WEIGHT: f64 = 20.0;
/// The captures' own spread makes the measured variance no smaller than this: the step of an odd tank of fuel is rare, so
/// that a few trips seldom hold one.
const LEAST_FACTOR: f64 = 0.8;
/// A mean over fewer seconds is not used to measure the spread.
const LEAST_S: f64 = 60.0;

impl Spread {
    /// The measured car's.
    pub const DEFAULT: Self = Self {
        side: variation::PERIOD,
        trip: variation::TRIP,
        region: variation::REGION,
        new_fuel: 1.0,
        freedom: 0.0,
    };

    /// Of the difference of two banks.
    pub const OF_BANKS: Self = Self {
        side: variation::BANKS_PERIOD,
        trip: variation::BANKS_TRIP,
        region: variation::BANKS_REGION,
        new_fuel: 1.0,
        freedom: 0.0,
    };

    /// The default, less what a tank that was not filled up cannot do, with the spread of the captures of each side weighed
    /// in.
    pub fn of(sides: [&[Summary]; 2]) -> Self {
        let usual = Self::with_new_fuel(tank::most_new(sides));
        let expected = usual.trip.powi(2) + usual.region.powi(2);
        let (mut squares, mut sets, mut freedom) = (0.0, 0.0, 0.0_f64);
        for region in Region::ALL {
            let measured = sides.map(|side| variance(side, region));
            let here: f64 = measured.iter().flatten().map(|(_, free)| free).sum();
            for (variance, free) in measured.into_iter().flatten() {
                squares += variance * free;
                sets += free;
            }
            // the regions of one trip move together: the best-known one tells how many draws there were
            freedom = freedom.max(here);
        }
        if sets == 0.0 {
            return usual;
        }
        let own = (squares / sets).max(0.0) / expected;
        let factor = (DEFAULT_WEIGHT + own * freedom) / (DEFAULT_WEIGHT + freedom);
        let factor = factor.max(LEAST_FACTOR);
        Self {
            trip: usual.trip * factor.sqrt(),
            region: usual.region * factor.sqrt(),
            freedom,
            ..usual
        }
    }

    /// Variance of one region's mean from trip to trip on different days, in squared logarithm, whatever the time spent.
    pub fn region_variance(&self) -> f64 {
        self.side.powi(2) + self.trip.powi(2) + self.region.powi(2)
    }

    /// The measured car's when at most this share of the tank is new: a step of refuelling is in proportion to it.
    fn with_new_fuel(share: f64) -> Self {
        let steps = variation::TRIP.powi(2) - variation::TRIP_ON_ONE_TANK.powi(2);
        Self {
            trip: (variation::TRIP_ON_ONE_TANK.powi(2) + steps * share * share).sqrt(),
            new_fuel: share,
            ..Self::DEFAULT
        }
    }

    /// Variance of what one tank of fuel does to all trips on it, as far as this leaves it out of `trip`.
    pub fn one_tank(&self) -> f64 {
        let steps = variation::TRIP.powi(2) - variation::TRIP_ON_ONE_TANK.powi(2);
        steps * (1.0 - self.new_fuel * self.new_fuel)
    }

    /// Standard deviation of one region's mean from trip to trip on different days, points, with the error inside a
    /// usual trip.
    pub fn region_points(&self) -> f64 {
        100.0 * (self.region_variance() + variation::INSIDE.powi(2)).sqrt()
    }
}

/// Variance of a region's mean between the trips of one side beyond the errors inside the trips, with its degrees of
/// freedom.
fn variance(side: &[Summary], region: Region) -> Option<(f64, f64)> {
    let known: Vec<(f64, f64)> = side.iter().filter_map(|trip| mean(trip, region)).collect();
    let count = known.len() as f64;
    if known.len() < 2 {
        return None;
    }
    let mean = known.iter().map(|(y, _)| y).sum::<f64>() / count;
    let squares: f64 = known.iter().map(|(y, _)| (y - mean).powi(2)).sum();
    let inside = known.iter().map(|(_, error)| error.powi(2)).sum::<f64>() / count;
    Some((squares / (count - 1.0) - inside, count - 1.0))
}

/// Mean of all banks in a region, with the error of one.
fn mean(trip: &Summary, region: Region) -> Option<(f64, f64)> {
    let here = || {
        let here = trip.trims.iter().filter(|trim| trim.region == region);
        here.filter(|trim| trim.seconds >= LEAST_S)
    };
    let count = here().count() as f64;
    let error = here().map(|trim| trim.std_error_log).next()?;
    Some((here().map(|trim| trim.mean_log).sum::<f64>() / count, error))
}
