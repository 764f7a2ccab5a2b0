//! Fuel trims against a prediction: a multivariate t over banks and regions, with the variation of healthy cars as
//! covariance.
//!
//! Every trip is one draw: the captures are first brought to one estimate per bank and region by generalised least
//! squares, each weighted by its trip's variation and its means' errors. The variation that all trips of a car share is
//! added after that. The tails are heavy because cars do more than any table knows (t with five degrees of freedom:
//! Lange, Little and Taylor, *Journal of the American Statistical Association* 84 (1989) 881, from memory; common
//! practice).
//!
//! The readings are weighed in three steps, the quietest first: banks against each other, regions against each other,
//! then the level. Each step's likelihood is conditional on the steps before it, so that they add up.
//!
//! A formula for a fault is not the fault: in each region the effect may be larger or smaller than predicted by a share
//! of itself, on all banks alike ([`MODEL_ERROR`]).

use std::rc::Rc;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use crate::{
    bank::Bank,
    series::{label::region::Region, summary::Summary, variation},
    statistics::density::log_student_t,
};

use super::{
    super::{
        diagnosis::Trim,
        forward::{Prediction, TrimEffect},
        healthy,
    },
    Case, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
    steps::{STEPS, TrimKey, steps},
};

/// Ratio of the t distribution's scale to its covariance, squared units.
pub(super) const SCALE: f64 = (DEGREES_OF_FREEDOM - 2.0) / DEGREES_OF_FREEDOM;
/// Share of its seconds with a saturated fuel trim from which a mean counts as saturated, 0 to 1 (assumed).
const SATURATED: f64 = 0.3;
/// Standard deviation of a predicted effect in a region, as a share of the effect (assumed: leaks, purge and dirt
/// follow their formulas roughly).
const MODEL_ERROR: f64 = 0.20;
/// Standard deviation of a predicted effect in a region, as a share of the effect, where chemistry alone acts: air
/// needs the same fuel however the engine is run (assumed; an injector's delivery is not quite proportional to its
/// opening time).
const MODEL_ERROR_CLOSE: f64 = 0.06;
/// Smallest standard error of a mean, as a logarithm (assumed).
pub(super) const LEAST_ERROR: f64 = 0.002;

/// Seconds of recording from which a mean is reported (assumed; a mean of fewer seconds weighs hardly anything).
const WORTH_TELLING_S: f64 = 20.0;

/// Log-likelihood of each step, up to a constant common to all predictions.
pub type Steps = [f64; STEPS];

/// One step of the fuel trims, by its index. All steps are computed together, once for each prediction.
#[derive(Debug)]
struct TrimStep(usize);

impl Evidence for TrimStep {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        let Self(step) = self;
        case.trims.get(*step).copied().unwrap_or(0.0)
    }
}

fn step(sources: &Sources<'_>, step: usize, fact: Option<Fact>) -> Option<Piece> {
    let trims: &Rc<TrimEvidence> = sources.all_trims.as_ref()?;
    (trims.rows_of(step) > 0).then(|| Piece::new(TrimStep(step), fact))
}

/// Evidence from banks against each other, the measure of `pintle.comparison/1`: reported where they differ most, over
/// the regions in which both were recorded.
pub fn banks(sources: &Sources<'_>) -> Option<Piece> {
    let reported = |trim: &&Trim| trim.bank > 1 && trim.seconds >= WORTH_TELLING_S;
    let ratios = sources.trims.iter().filter(reported).filter_map(|other| {
        let first = |t: &&Trim| t.bank == 1 && t.region == other.region;
        let first = sources.trims.iter().find(first)?;
        let ratio = (100.0 + first.mean_pct) / (100.0 + other.mean_pct);
        Some((other.bank, 100.0 * (ratio - 1.0), other.region))
    });
    let most = ratios.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let fact = most.map(|(other, pct, region)| Fact::BankDifference { other, pct, region });
    step(sources, 0, fact)
}

/// Evidence from regions against each other: reported for the bank that is furthest from zero.
pub fn regions(sources: &Sources<'_>) -> Option<Piece> {
    let fact = worst_bank(sources.trims).and_then(|bank| {
        let reported = |trim: &&Trim| trim.bank == bank && trim.seconds >= WORTH_TELLING_S;
        let of = sources.trims.iter().filter(reported);
        let means_pct: Vec<_> = of.map(|trim| (trim.region, trim.mean_pct)).collect();
        (means_pct.len() > 1).then_some(Fact::TrimByRegion { bank, means_pct })
    });
    step(sources, 1, fact)
}

fn worst_bank(trims: &[Trim]) -> Option<u8> {
    let size = |bank: u8| {
        let of = trims.iter().filter(|trim| trim.bank == bank);
        of.map(|trim| trim.mean_pct.abs()).fold(0.0, f64::max)
    };
    let banks = trims.iter().map(|trim| trim.bank);
    banks.max_by(|a, b| size(*a).total_cmp(&size(*b)).then(b.cmp(a)))
}

/// Evidence from the level: reported as the mean of everything that counted.
pub fn level(sources: &Sources<'_>) -> Option<Piece> {
    let seconds: f64 = sources.trims.iter().map(|trim| trim.seconds).sum();
    let sums = sources
        .trims
        .iter()
        .map(|trim| trim.mean_pct * trim.seconds);
    let mean = sums.sum::<f64>() / seconds.max(1.0);
    let fact = (!sources.trims.is_empty()).then_some(Fact::MeanTrim(mean));
    step(sources, 2, fact)
}

/// All fuel trims of a car, ready to be scored against predictions.
#[derive(Debug, Clone)]
pub struct TrimEvidence {
    keys: Vec<TrimKey>,
    estimate: DVector<f64>,
    /// Saturation of each mean: at the upper limit (1), at the lower limit (−1), or free (0).
    saturation: Vec<f64>,
    /// Rows: bank differences, region differences, level.
    steps: DMatrix<f64>,
    ends: [usize; STEPS],
    factor: Cholesky<f64, Dyn>,
}

/// The fuel trims of one capture.
struct TripTrims {
    keys: Vec<TrimKey>,
    y: Vec<f64>,
    error: Vec<f64>,
    /// Standard errors of bank 1 minus a different bank (from 0) in a region, from the same moments.
    differences: Vec<(TrimKey, f64)>,
}

impl TrimEvidence {
    /// Combines the captures; `None` where no fuel trim counted.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let trips: Vec<TripTrims> = summaries.iter().filter_map(TripTrims::of).collect();
        let mut keys: Vec<TrimKey> = trips.iter().flat_map(|trip| trip.keys.clone()).collect();
        keys.sort_unstable();
        keys.dedup();
        let (estimate, spread) = combine(&trips, &keys)?;
        let covariance = spread + between_cars(&keys);
        let (steps, ends) = steps(&keys);
        let scale = (&steps * covariance * steps.transpose()) * SCALE;
        Some(Self {
            saturation: saturation(summaries, &keys),
            factor: scale.cholesky()?,
            keys,
            estimate,
            steps,
            ends,
        })
    }

    /// Number of rows in a step.
    fn rows_of(&self, step: usize) -> usize {
        let end = |step: usize| self.ends.get(step).copied().unwrap_or(0);
        end(step) - step.checked_sub(1).map_or(0, end)
    }

    /// Log-likelihood of each step, up to a constant common to all predictions.
    pub fn log_likelihood(&self, prediction: &Prediction) -> Steps {
        let effect = &prediction.total();
        let residual = self.residual(effect);
        let factor = self.widened(effect, prediction, &residual);
        let mut white = &self.steps * residual;
        let lower = factor.l_dirty();
        lower.solve_lower_triangular_mut(&mut white);
        let mut steps = [0.0; STEPS];
        let (mut before, mut square, mut log_size, mut from) = (0.0, 0.0, 0.0, 0);
        for (step, end) in steps.iter_mut().zip(self.ends) {
            for row in from..end {
                square += white.get(row).map_or(0.0, |value| value * value);
                log_size += lower.get((row, row)).map_or(0.0, |value| value.ln());
            }
            let now = log_student_t(square, end as f64, DEGREES_OF_FREEDOM) - log_size;
            *step = now - before;
            (before, from) = (now, end);
        }
        steps
    }

    /// The covariance widened by the error of the prediction. Beyond a limit it does not matter how far off the
    /// prediction is.
    fn widened(
        &self,
        effect: &TrimEffect,
        prediction: &Prediction,
        residual: &DVector<f64>,
    ) -> Cholesky<f64, Dyn> {
        let model_error = if prediction.follows_closely {
            MODEL_ERROR_CLOSE
        } else {
            MODEL_ERROR
        };
        let mut factor = self.factor.clone();
        let mut widen = |share: f64, concerned: &dyn Fn(&TrimKey) -> bool| {
            let keys = self.keys.iter().zip(&self.saturation).zip(residual);
            let here = keys.map(|((key, saturation), left)| {
                let beyond = *saturation != 0.0 && *left == 0.0;
                if concerned(key) && !beyond {
                    share * at(effect, *key)
                } else {
                    0.0
                }
            });
            let off = DVector::from_iterator(self.keys.len(), here);
            if off.amax() > 0.0 {
                factor.rank_one_update(&(&self.steps * off), SCALE);
            }
        };
        for region in Region::ALL {
            widen(model_error, &|key| key.region == region);
        }
        if prediction.bank_spread > 0.0 {
            for bank in Bank::ALL {
                widen(prediction.bank_spread, &|key| key.bank == bank);
            }
        }
        factor
    }

    /// Fuel that each bank lacks, as a logarithm, where its trims are saturated at the upper limit and more is
    /// predicted; 0 elsewhere.
    pub fn lacking(&self, effect: &TrimEffect) -> TrimEffect {
        let mut lacking = TrimEffect::default();
        let rows = self.keys.iter().zip(&self.saturation).zip(&self.estimate);
        for ((key, saturation), y) in rows {
            if *saturation > 0.0 {
                lacking[key.bank][key.region] =
                    (healthy_mean(*key) + at(effect, *key) - y).max(0.0);
            }
        }
        lacking
    }

    /// Residual of the estimate. A saturated trim is a lower bound: a prediction beyond it fits as well.
    fn residual(&self, effect: &TrimEffect) -> DVector<f64> {
        let rows = self.keys.iter().zip(&self.saturation).zip(&self.estimate);
        let left = rows.map(|((key, saturation), y)| {
            let residual = y - healthy_mean(*key) - at(effect, *key);
            if residual * saturation < 0.0 {
                0.0
            } else {
                residual
            }
        });
        DVector::from_iterator(self.keys.len(), left)
    }
}

impl TripTrims {
    fn of(summary: &Summary) -> Option<Self> {
        let rows = summary.fuel_trims().into_iter().filter_map(|trim| {
            let key = TrimKey {
                bank: Bank::numbered(trim.bank)?,
                region: trim.region,
            };
            let sound = trim.mean_log.is_finite() && trim.std_error_log.is_finite();
            sound.then_some((key, trim.mean_log, trim.std_error_log.max(LEAST_ERROR)))
        });
        let mut rows: Vec<_> = rows.collect();
        rows.sort_by_key(|(key, ..)| *key);
        (!rows.is_empty()).then(|| Self {
            keys: rows.iter().map(|row| row.0).collect(),
            y: rows.iter().map(|row| row.1).collect(),
            error: rows.iter().map(|row| row.2).collect(),
            differences: differences(summary),
        })
    }

    /// Correlation of the errors of two banks' means in one region: each as far as it goes with bank 1's.
    fn shared(&self, a: TrimKey, b: TrimKey) -> f64 {
        self.shared_with_first(a) * self.shared_with_first(b)
    }

    /// Correlation with bank 1 from the error of the difference, where it was measured: var(a − b) = var a + var b − 2
    /// cov.
    fn shared_with_first(&self, key: TrimKey) -> f64 {
        if key.bank == Bank::One {
            return 1.0;
        }
        let first = TrimKey {
            bank: Bank::One,
            ..key
        };
        let error = |of: TrimKey| {
            let index = self.keys.binary_search(&of).ok()?;
            self.error.get(index).copied()
        };
        let measured = self.differences.iter().find(|(other, _)| *other == key);
        let (Some((_, difference)), Some(one), Some(other)) = (measured, error(first), error(key))
        else {
            return SHARED_BY_BANKS;
        };
        let sum = square(one) + square(other) - square(*difference);
        (sum / (2.0 * one * other)).clamp(0.0, MOST_SHARED)
    }

    /// Covariance that this trip adds by itself: its level, its departure by region and by bank, the errors of its
    /// means.
    ///
    /// Banks share fuel, weather and air: the error of a mean is mostly common to them.
    fn covariance(&self) -> DMatrix<f64> {
        let n = self.keys.len();
        DMatrix::from_fn(n, n, |i, j| {
            let (Some(a), Some(b)) = (self.keys.get(i), self.keys.get(j)) else {
                return 0.0;
            };
            let (same_region, same_bank) = (a.region == b.region, a.bank == b.bank);
            let error = |index: usize| self.error.get(index).copied().unwrap_or(1.0);
            let mut sum = square(variation::TRIP);
            if same_region {
                sum += square(variation::REGION);
                let (one, other) = (error(i), error(j));
                let share = if same_bank { 1.0 } else { self.shared(*a, *b) };
                sum += share * one * other;
            }
            if same_bank {
                sum += square(variation::ONE_BANK_TRIP);
            }
            sum
        })
    }
}

fn differences(summary: &Summary) -> Vec<(TrimKey, f64)> {
    let all = summary.bank_differences.iter();
    let known = all.filter_map(|difference| {
        let key = TrimKey {
            bank: Bank::numbered(difference.other)?,
            region: difference.region,
        };
        Some((key, difference.std_error_log.max(LEAST_ERROR)))
    });
    known.collect()
}

/// Share of the error of a mean that banks have in common where their difference was not measured, 0 to 1 (assumed:
/// fuel, weather and air are the same).
pub(super) const SHARED_BY_BANKS: f64 = 0.75;
/// Largest share of the error of a mean that banks are taken to have in common, 0 to 1 (assumed; it keeps the
/// covariance invertible).
const MOST_SHARED: f64 = 0.98;

/// One estimate of all places from all trips, with its covariance (generalised least squares); `None` where it cannot
/// be inverted.
fn combine(trips: &[TripTrims], keys: &[TrimKey]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let n = keys.len();
    let mut precision = DMatrix::<f64>::zeros(n, n);
    let mut weighted = DVector::<f64>::zeros(n);
    for trip in trips {
        let inverse = trip.covariance().cholesky()?.inverse();
        let index: Vec<usize> = trip
            .keys
            .iter()
            .filter_map(|key| keys.binary_search(key).ok())
            .collect();
        for (i, row) in index.iter().enumerate() {
            for (j, (column, y)) in index.iter().zip(&trip.y).enumerate() {
                let value = inverse.get((i, j)).copied().unwrap_or(0.0);
                if let Some(cell) = precision.get_mut((*row, *column)) {
                    *cell += value;
                }
                if let Some(cell) = weighted.get_mut(*row) {
                    *cell += value * y;
                }
            }
        }
    }
    let factor = precision.cholesky()?;
    Some((factor.solve(&weighted), factor.inverse()))
}

/// Covariance between healthy cars around the mean healthy car; shared by all trips of one car.
fn between_cars(keys: &[TrimKey]) -> DMatrix<f64> {
    let n = keys.len();
    DMatrix::from_fn(n, n, |i, j| {
        let (Some(a), Some(b)) = (keys.get(i), keys.get(j)) else {
            return 0.0;
        };
        let mut sum = square(healthy::CAR_LEVEL) + square(variation::PERIOD);
        if a.region == b.region {
            sum += square(healthy::CAR_REGION[a.region]);
        }
        if a.bank == b.bank {
            sum += square(healthy::BANK);
        }
        if a == b {
            sum += square(healthy::BANK_REGION);
        }
        sum
    })
}

fn saturation(summaries: &[Summary], keys: &[TrimKey]) -> Vec<f64> {
    let of = |key: &TrimKey| {
        let here = summaries.iter().flat_map(Summary::fuel_trims);
        let here = here.filter(|trim| trim.bank == key.bank.number() && trim.region == key.region);
        let stopped = here.filter(|trim| trim.saturated >= SATURATED);
        stopped
            .map(|trim| trim.mean_log.signum())
            .next()
            .unwrap_or(0.0)
    };
    keys.iter().map(of).collect()
}

fn healthy_mean(key: TrimKey) -> f64 {
    healthy::MEAN[key.region]
}

pub(super) fn at(values: &TrimEffect, key: TrimKey) -> f64 {
    values[key.bank][key.region]
}

fn square(x: f64) -> f64 {
    x * x
}
