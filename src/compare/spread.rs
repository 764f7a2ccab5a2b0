//! Variation between trips of an unchanged car, with which the difference of two sides is compared.
//!
//! One trip is one draw. The defaults are those of [`variation`]. Where a side has several captures, their own
//! variation is combined with it.

use crate::series::{label::region::Region, summary::Summary, variation};

use super::tank;

/// Standard deviations of y = ln C (0.01 is one point).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Standard deviation that all trips of a side share.
    pub side: f64,
    /// Standard deviation of one trip, all regions alike.
    pub trip: f64,
    /// Standard deviation of one region within one trip, besides `trip`.
    pub region: f64,
    /// Largest share of the tank that can be new to any trip against any other, 0 to 1; its effect is in `trip`.
    pub new_fuel: f64,
    /// Degrees of freedom with which the captures' own variation entered; 0 for the default alone.
    pub degrees_of_freedom: f64,
}

/// Number of trips that the default counts for, against the captures' own variation (assumed).
const DEFAULT_WEIGHT: f64 = 20.0;
/// Smallest factor that the captures' own variation may apply to the measured variance (assumed): the step of an odd
/// tank of fuel is rare, so that a few trips seldom include one.
const LEAST_FACTOR: f64 = 0.8;
/// Seconds below which a mean is not used to measure the variation (assumed).
const LEAST_S: f64 = 60.0;

impl Spread {
    /// Variation of the measured car.
    pub const DEFAULT: Self = Self {
        side: variation::PERIOD,
        trip: variation::TRIP,
        region: variation::REGION,
        new_fuel: 1.0,
        degrees_of_freedom: 0.0,
    };

    /// Variation of the difference of two banks.
    pub const OF_BANKS: Self = Self {
        side: variation::BANKS_PERIOD,
        trip: variation::BANKS_TRIP,
        region: variation::BANKS_REGION,
        new_fuel: 1.0,
        degrees_of_freedom: 0.0,
    };

    /// The default, reduced by what a tank that was not refuelled cannot cause, combined with the variation of the
    /// captures of each side.
    pub fn of(sides: [&[Summary]; 2]) -> Self {
        let usual = Self::with_new_fuel(tank::most_new(sides));
        let expected = usual.trip.powi(2) + usual.region.powi(2);
        let (mut squares, mut sets, mut degrees_of_freedom) = (0.0, 0.0, 0.0_f64);
        for region in Region::ALL {
            let measured = sides.map(|side| variance(side, region));
            let here: f64 = measured.iter().flatten().map(|(_, free)| free).sum();
            for (variance, free) in measured.into_iter().flatten() {
                squares += variance * free;
                sets += free;
            }
            // the regions of one trip move together: the best-known one decides how many draws there were
            degrees_of_freedom = degrees_of_freedom.max(here);
        }
        if sets == 0.0 {
            return usual;
        }
        let own = (squares / sets).max(0.0) / expected;
        let factor =
            (DEFAULT_WEIGHT + own * degrees_of_freedom) / (DEFAULT_WEIGHT + degrees_of_freedom);
        let factor = factor.max(LEAST_FACTOR);
        Self {
            trip: usual.trip * factor.sqrt(),
            region: usual.region * factor.sqrt(),
            degrees_of_freedom,
            ..usual
        }
    }

    /// Variance of one region's mean from trip to trip on different days, in squared logarithm, without the error
    /// within the trips.
    pub fn region_variance(&self) -> f64 {
        self.side.powi(2) + self.trip.powi(2) + self.region.powi(2)
    }

    /// Variation of the measured car when at most this share of the tank is new: a step of refuelling is proportional
    /// to it.
    fn with_new_fuel(share: f64) -> Self {
        let steps = variation::TRIP.powi(2) - variation::TRIP_ON_ONE_TANK.powi(2);
        Self {
            trip: (variation::TRIP_ON_ONE_TANK.powi(2) + steps * share * share).sqrt(),
            new_fuel: share,
            ..Self::DEFAULT
        }
    }

    /// Variance that one tank of fuel causes in all trips on it, as far as it is left out of `trip`.
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

/// Variance of a region's mean between the trips of one side beyond the errors within the trips, with its degrees of
/// freedom; `None` where it cannot be measured.
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

/// Mean of all banks in a region, with the error of one bank.
fn mean(trip: &Summary, region: Region) -> Option<(f64, f64)> {
    let here = || {
        let here = trip.trims.iter().filter(|trim| trim.region == region);
        here.filter(|trim| trim.seconds >= LEAST_S)
    };
    let count = here().count() as f64;
    let error = here().map(|trim| trim.std_error_log).next()?;
    Some((here().map(|trim| trim.mean_log).sum::<f64>() / count, error))
}
