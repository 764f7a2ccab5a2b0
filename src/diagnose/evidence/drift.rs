//! How the correction went in the course of each trip, at like operation: what a fuel canister held is used up within minutes
//! to tens of minutes, and whatever draws on it fades. Of all causes that are weighed only purge does so: dirt, drips,
//! leaks, meters and pumps stay as they are on a warm engine.
//!
//! Only how a region's stretches differ from one another is looked at, as their level has been weighed already. A healthy
//! car settles in its first minutes (fuel boils out of the oil, heat that soaked in while it stood is blown away) and wanders
//! slowly all the time: both stand in the covariance, so that neither speaks for anything.

use enum_map::Enum;
use nalgebra::{DMatrix, DVector, Matrix4, Vector4};

use crate::{
    series::{
        label::region::{ByRegion, Region},
        summary::{Stretch, Summary},
        variation,
    },
    statistics::density::{log_mixture, log_student_t},
};

use super::{
    super::{
        forward::{EMPTIES_S, Emptying, Held, Prediction},
        healthy,
    },
    Case, Conditions, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
};

/// How full the canister was when each trip began, with the weights, and by what share of itself that is off: after a short
/// stand there is little in it (assumed).
const FILLED: [(f64, f64); 2] = [(0.65, 1.0), (0.35, 0.2)];
const FILLED_ROUGHLY: f64 = 0.3;
/// From this share of its seconds at a stop on, the trims of a region cannot show how the correction went.
const AT_STOP: f64 = 0.3;

/// One trip under one of the times in which a canister empties: how what fades shows in its stretches.
#[derive(Debug, Clone, Copy)]
struct Fading {
    /// Its product with what was read …
    read: Vector4<f64>,
    /// … and with itself, by region.
    itself: Matrix4<f64>,
}

/// The drift, where a region was visited for long enough.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let drift = Drift::new(sources.summaries)?;
    let (rise_log, std_error_log) = drift.rise();
    let fact = Fact::Drift {
        rise_log,
        std_error_log,
    };
    Some(Piece::new(drift, Some(fact)))
}

impl Evidence for Drift {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.held = Some(self.held);
    }
}

/// All trips, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Drift {
    trips: Vec<[Fading; EMPTIES_S.len()]>,
    held: [Held; EMPTIES_S.len()],
    /// How much closer any fading at all comes to what was read than none, and in how many numbers.
    most_gain: f64,
    numbers: f64,
    /// Times of the first and of the last stretch.
    span_s: [f64; 2],
}

impl Drift {
    /// Takes the captures together; `None` where no region was visited for long enough to drift.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let trips: Vec<Vec<Here>> = summaries.iter().map(stretches).collect();
        let all = || trips.iter().flatten();
        let held = EMPTIES_S.map(|over_s| held(all(), over_s));
        let times = all().map(|(_, stretch)| stretch.second);
        let span_s = [times.clone().reduce(f64::min)?, times.reduce(f64::max)?];
        let mut drift = Self {
            held,
            most_gain: 0.0,
            numbers: 0.0,
            span_s,
            trips: trips.iter().filter_map(|trip| fadings(trip)).collect(),
        };
        for over in 0..EMPTIES_S.len() {
            let fadings = drift.trips.iter().filter_map(|trip| trip.get(over));
            let best = fadings.filter_map(Fading::most_gain);
            let (gain, numbers) = best.fold((0.0, 0.0), |(gain, all), (more, numbers)| {
                (gain + more, all + numbers)
            });
            if gain >= drift.most_gain {
                (drift.most_gain, drift.numbers) = (gain, numbers);
            }
        }
        (drift.numbers > 0.0).then_some(drift)
    }

    /// Logarithm of the likelihood, up to what is the same for all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        let gain = prediction
            .emptying
            .map_or(0.0, |emptying| self.gain(emptying));
        let away = (self.most_gain - gain).max(0.0);
        log_student_t(away, self.numbers, DEGREES_OF_FREEDOM)
    }

    /// How much closer what fades comes to what was read than none.
    fn gain(&self, Emptying { over, by_log }: Emptying) -> f64 {
        let by = Vector4::from(by_log.into_array());
        let fadings = self.trips.iter().filter_map(|trip| trip.get(over));
        fadings.map(|fading| fading.gain(&by)).sum()
    }

    /// How far the correction rises in the course of the trips, as a logarithm, with the standard error: what an even fading
    /// everywhere comes nearest to, from the first to the last stretch.
    pub fn rise(&self) -> (f64, f64) {
        let [first, last] = self.span_s;
        let fits = (0..).zip(EMPTIES_S).map(|(over, over_s)| {
            let fadings = self.trips.iter().filter_map(|trip| trip.get(over));
            let (read, itself) = fadings.fold((0.0, 0.0), |(read, itself), fading| {
                (read + fading.read.sum(), itself + fading.itself.sum())
            });
            let went = (-first / over_s).exp() - (-last / over_s).exp();
            (
                read * read / itself,
                -went * read / itself,
                went / itself.sqrt(),
            )
        });
        let known = fits.filter(|(gain, ..)| gain.is_finite());
        let best = known.max_by(|a, b| a.0.total_cmp(&b.0));
        best.map_or((0.0, f64::INFINITY), |(_, rise, error)| (rise, error))
    }
}

impl Fading {
    /// How much closer what fades by so much comes to what was read than none, whatever the canister held.
    fn gain(&self, by: &Vector4<f64>) -> f64 {
        let (read, size) = (by.dot(&self.read), by.dot(&(self.itself * by)));
        let ways = FILLED.map(|(weight, filled)| {
            let (read, size) = (filled * read, filled * filled * size);
            let roughly = FILLED_ROUGHLY * FILLED_ROUGHLY;
            let (left, wider) = (read - size, 1.0 + roughly * size);
            let gain = 2.0 * read - size + roughly * left * left / wider;
            (weight, 0.5 * (gain - wider.ln()))
        });
        2.0 * log_mixture(ways)
    }

    /// How much closer the best one by regions comes to what was read than none, and in how many regions.
    fn most_gain(&self) -> Option<(f64, f64)> {
        let seen = |region: usize| self.itself.get((region, region)).copied() > Some(LEAST_SEEN);
        let seen: Vec<usize> = (0..Region::ALL.len())
            .filter(|region| seen(*region))
            .collect();
        let at = |row: usize| seen.get(row).copied().unwrap_or(0);
        let itself = DMatrix::from_fn(seen.len(), seen.len(), |row, column| {
            let ridge = if row == column { LEAST_SEEN } else { 0.0 };
            self.itself.get((at(row), at(column))).map_or(0.0, |x| *x) + ridge
        });
        let read = DVector::from_fn(seen.len(), |row, _| {
            self.read.get(at(row)).copied().unwrap_or(0.0)
        });
        let best = itself.cholesky()?.solve(&read);
        Some((best.dot(&read), seen.len() as f64))
    }
}

/// A region in which not even a fading by 100 points (1.0) would be seen tells nothing.
const LEAST_SEEN: f64 = 1.0;

/// A stretch with its region.
type Here = (Region, Stretch);

/// The stretches of one trip.
fn stretches(summary: &Summary) -> Vec<Here> {
    // another fuel, and a canister filled with it
    if summary.filling.is_some() {
        return Vec::new();
    }
    let stops = |region: Region| {
        let mut here = summary.trims.iter().filter(|trim| trim.region == region);
        here.any(|trim| trim.at_stop >= AT_STOP)
    };
    let free = summary.drift.iter().filter(|drift| !stops(drift.region));
    let each = free.flat_map(|drift| {
        let region = drift.region;
        drift
            .stretches
            .iter()
            .map(move |stretch| (region, *stretch))
    });
    each.collect()
}

/// How what fades over each of the times would show in the stretches of one trip.
fn fadings(all: &[Here]) -> Option<[Fading; EMPTIES_S.len()]> {
    let precision = precision(all)?;
    let y = DVector::from_iterator(all.len(), all.iter().map(|(_, s)| s.mean_log));
    let fading = |over_s: f64| {
        let shape = DMatrix::from_fn(all.len(), Region::ALL.len(), |row, column| {
            match all.get(row) {
                Some((here, stretch)) if here.into_usize() == column => {
                    (-stretch.second / over_s).exp()
                }
                _ => 0.0,
            }
        });
        let weighed = shape.transpose() * &precision;
        let itself = &weighed * &shape;
        let read = weighed * &y;
        Fading {
            read: Vector4::from_iterator(read.iter().copied()),
            itself: Matrix4::from_iterator(itself.iter().copied()),
        }
    };
    Some(EMPTIES_S.map(fading))
}

/// The inverse of what a healthy car's stretches do by themselves, blind to each region's level.
fn precision(all: &[Here]) -> Option<DMatrix<f64>> {
    let n = all.len();
    let first = all.iter().map(|(_, s)| s.second).reduce(f64::min)?;
    let settled = |s: &Stretch| (-(s.second - first) / healthy::SETTLES_S).exp();
    let covariance = DMatrix::from_fn(n, n, |i, j| {
        let (Some((_, a)), Some((_, b))) = (all.get(i), all.get(j)) else {
            return 0.0;
        };
        let apart = (a.second - b.second).abs() / variation::WANDER_S;
        let own = if i == j { a.std_error_log.powi(2) } else { 0.0 };
        let settling = healthy::SETTLING.powi(2) * settled(a) * settled(b);
        own + settling + variation::WANDER.powi(2) * (-apart).exp()
    });
    let mut inverse = covariance.cholesky()?.inverse();
    for region in Region::ALL {
        let level = all
            .iter()
            .map(|(here, _)| f64::from(u8::from(*here == region)));
        let weighed = &inverse * DVector::from_iterator(n, level.clone());
        let size: f64 = weighed.iter().zip(level).map(|(w, here)| w * here).sum();
        if size > 0.0 {
            inverse -= &weighed * weighed.transpose() / size;
        }
    }
    Some(inverse)
}

/// Means of what is left over the seconds of each region and of all; a region that was not visited is taken for all.
fn held<'a>(all: impl Iterator<Item = &'a Here>, over_s: f64) -> Held {
    let mut sums = ByRegion::<(f64, f64)>::default();
    for (region, stretch) in all {
        let (left, seconds) = &mut sums[*region];
        *left += stretch.seconds * (-stretch.second / over_s).exp();
        *seconds += stretch.seconds;
    }
    let (left, seconds) = sums
        .values()
        .fold((0.0, 0.0), |(left, all), (more, seconds)| {
            (left + more, all + seconds)
        });
    let of_all = if seconds > 0.0 { left / seconds } else { 1.0 };
    let by_region = sums.map(|_, (left, seconds)| {
        if seconds > 0.0 {
            left / seconds
        } else {
            of_all
        }
    });
    Held { by_region, of_all }
}

#[cfg(test)]
mod tests;
