//! How the fuel trim moves during each trip in like operation: the charge of a fuel canister is used up within minutes
//! to tens of minutes, and its effect fades. Of all causes considered only purge does so: dirt, drips, leaks, sensors
//! and pumps stay as they are on a warm engine.
//!
//! Only the differences between the stretches of a region are considered, as their level is weighed elsewhere. A
//! healthy car settles in its first minutes (fuel boils out of the oil, heat soaked in while parked is blown away) and
//! wanders slowly all the time: both are in the covariance, so that neither is evidence.

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
        forward::{CanisterLeft, EMPTIES_S, Emptying, Prediction},
        healthy,
    },
    Case, Conditions, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
};

/// How full the canister was when each trip began, as pairs of probability and share: after a short stop there is
/// little in it (assumed).
const FILLED: [(f64, f64); 2] = [(0.65, 1.0), (0.35, 0.2)];
/// Standard deviation of the canister's charge at the start of a trip, as a share of the charge (assumed).
const FILLED_ROUGHLY: f64 = 0.3;
/// Share of a region's seconds with a saturated fuel trim from which the region cannot show a drift, 0 to 1 (assumed).
const SATURATED: f64 = 0.3;

/// One trip under one of the canister's emptying times: how a fading effect shows in the trip's stretches.
#[derive(Debug, Clone, Copy)]
struct Fading {
    /// Product of the fading pattern with the readings, by region, weighted by the precision.
    read: Vector4<f64>,
    /// Product of the fading pattern with itself, by region, weighted by the precision.
    itself: Matrix4<f64>,
}

/// Evidence from the drift, where a region was recorded for long enough.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let drift = DriftEvidence::new(sources.summaries)?;
    let (rise_log, std_error_log) = drift.rise();
    let fact = Fact::Drift {
        rise_log,
        std_error_log,
    };
    Some(Piece::new(drift, Some(fact)))
}

impl Evidence for DriftEvidence {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.canister_left = Some(self.canister_left);
    }
}

/// All trips, ready to be scored against predictions.
#[derive(Debug, Clone)]
pub struct DriftEvidence {
    trips: Vec<[Fading; EMPTIES_S.len()]>,
    canister_left: [CanisterLeft; EMPTIES_S.len()],
    /// Largest gain in squared distance that any fading has over none; `numbers` is its number of regions.
    most_gain: f64,
    numbers: f64,
    /// Seconds of the first and of the last stretch.
    span_s: [f64; 2],
}

impl DriftEvidence {
    /// Combines the captures; `None` where no region was recorded for long enough to drift.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let trips: Vec<Vec<RegionStretch>> = summaries.iter().map(stretches).collect();
        let all = || trips.iter().flatten();
        let canister_left = EMPTIES_S.map(|over_s| canister_left(all(), over_s));
        let times = all().map(|(_, stretch)| stretch.second);
        let span_s = [times.clone().reduce(f64::min)?, times.reduce(f64::max)?];
        let mut drift = Self {
            canister_left,
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

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        let gain = prediction
            .emptying
            .map_or(0.0, |emptying| self.gain(emptying));
        let away = (self.most_gain - gain).max(0.0);
        log_student_t(away, self.numbers, DEGREES_OF_FREEDOM)
    }

    /// Gain in squared distance to the readings that a predicted emptying has over no fading.
    fn gain(&self, Emptying { over, by_log }: Emptying) -> f64 {
        let by = Vector4::from(by_log.into_array());
        let fadings = self.trips.iter().filter_map(|trip| trip.get(over));
        fadings.map(|fading| fading.gain(&by)).sum()
    }

    /// Rise of the fuel trim during the trips, as a logarithm, with its standard error: the best fit of an even fading
    /// in all regions, from the first to the last stretch.
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
    /// Gain in squared distance to the readings that a fading by `by` has over none, averaged over what the canister
    /// may have held.
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

    /// Gain in squared distance of the best fading by regions over none, and the number of those regions; `None` where
    /// none can be fitted.
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

/// Precision (one over variance) above which a region says anything: less would not show even a fading by 100 points
/// (1.0).
const LEAST_SEEN: f64 = 1.0;

/// A stretch with the index of its region.
type RegionStretch = (Region, Stretch);

/// The stretches of one trip.
fn stretches(summary: &Summary) -> Vec<RegionStretch> {
    // a refuelling brings another fuel and fills the canister
    if summary.refuelling.is_some() {
        return Vec::new();
    }
    let saturation = |region: Region| {
        let mut here = summary.trims.iter().filter(|trim| trim.region == region);
        here.any(|trim| trim.saturated >= SATURATED)
    };
    let free = summary
        .drift
        .iter()
        .filter(|drift| !saturation(drift.region));
    let each = free.flat_map(|drift| {
        let region = drift.region;
        drift
            .stretches
            .iter()
            .map(move |stretch| (region, *stretch))
    });
    each.collect()
}

/// How a fading over each of the emptying times would show in the stretches of one trip; `None` where the covariance
/// cannot be inverted.
fn fadings(all: &[RegionStretch]) -> Option<[Fading; EMPTIES_S.len()]> {
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

/// Inverse covariance of a healthy car's stretches, with each region's level projected out; `None` where it cannot be
/// inverted.
fn precision(all: &[RegionStretch]) -> Option<DMatrix<f64>> {
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

/// Mean share of the canister's charge that is left over the seconds of each region and of all; a region that was not
/// recorded takes the mean of all.
fn canister_left<'a>(all: impl Iterator<Item = &'a RegionStretch>, over_s: f64) -> CanisterLeft {
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
    CanisterLeft { by_region, of_all }
}

#[cfg(test)]
mod tests;
