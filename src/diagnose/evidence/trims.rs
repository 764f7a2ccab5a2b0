//! Corrections against a prediction: a multivariate t over banks and regions, with all that a
//! healthy car does by itself as covariance.
//!
//! Every trip is one draw: the captures are first brought to one estimate per bank and region by
//! generalised least squares, each weighed by its own trip's wander and its means' errors. What all
//! trips of a car share is added after that. The tails are heavy because cars do more than any
//! table knows (t with five degrees of freedom: Lange, Little and Taylor, *Journal of the American
//! Statistical Association* 84 (1989) 881, from memory; common practice).
//!
//! The readings are looked at in three steps, the quietest first: banks against each other, regions
//! against each other, then the level. Each step's likelihood is given what the steps before it
//! said, so that they add up.
//!
//! A formula for a fault is not the fault: in each region the effect may be larger or smaller than
//! predicted by a share of itself, on all banks alike ([`MODEL_ERROR`]).

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
    steps::{Place, STEPS, steps},
};

/// Scale of the distribution against its covariance.
pub(super) const SCALE: f64 = (DEGREES_OF_FREEDOM - 2.0) / DEGREES_OF_FREEDOM;
/// A mean counts as being at the stop from this share of its seconds.
const AT_STOP: f64 = 0.3;
/// By what share of itself a predicted effect is off in a region (assumed: leaks, purge and dirt
/// follow their formulas roughly).
const MODEL_ERROR: f64 = 0.20;
/// The same where chemistry alone acts: air and fuel need each other alike however the engine is run (assumed; what injectors
/// give is not quite in step with their opening).
const MODEL_ERROR_CLOSE: f64 = 0.06;
/// Smallest standard error that a mean may have.
pub(super) const LEAST_ERROR: f64 = 0.002;

/// A mean of fewer seconds weighs hardly anything and is not told.
const WORTH_TELLING_S: f64 = 20.0;

/// Logarithm of the likelihood of each step, up to what is the same for all predictions.
pub type Steps = [f64; STEPS];

/// One step of the fuel trims. They are weighed together, once for each prediction.
#[derive(Debug)]
struct Step(usize);

impl Evidence for Step {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        let Self(step) = self;
        case.trims.get(*step).copied().unwrap_or(0.0)
    }
}

fn step(sources: &Sources<'_>, step: usize, fact: Option<Fact>) -> Option<Piece> {
    let trims: &Rc<Trims> = sources.all_trims.as_ref()?;
    (trims.rows_of(step) > 0).then(|| Piece::new(Step(step), fact))
}

/// Banks against each other, the measure of `pintle.comparison/1`: told where they differ most, over the regions in which
/// both were recorded.
pub fn banks(sources: &Sources<'_>) -> Option<Piece> {
    let told = |trim: &&Trim| trim.bank > 1 && trim.seconds >= WORTH_TELLING_S;
    let ratios = sources.trims.iter().filter(told).filter_map(|other| {
        let first = |t: &&Trim| t.bank == 1 && t.region == other.region;
        let first = sources.trims.iter().find(first)?;
        let ratio = (100.0 + first.mean_pct) / (100.0 + other.mean_pct);
        Some((other.bank, 100.0 * (ratio - 1.0), other.region))
    });
    let most = ratios.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let fact = most.map(|(other, pct, region)| Fact::BankDifference { other, pct, region });
    step(sources, 0, fact)
}

/// Regions against each other: told of the bank that is furthest from zero.
pub fn regions(sources: &Sources<'_>) -> Option<Piece> {
    let fact = worst_bank(sources.trims).and_then(|bank| {
        let told = |trim: &&Trim| trim.bank == bank && trim.seconds >= WORTH_TELLING_S;
        let of = sources.trims.iter().filter(told);
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

/// The level: told as the mean of everything that counted.
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

/// All corrections of a car, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Trims {
    places: Vec<Place>,
    estimate: DVector<f64>,
    /// At its stop upwards (1), downwards (−1), or free (0).
    stops: Vec<f64>,
    /// Rows: bank differences, region differences, level.
    steps: DMatrix<f64>,
    ends: [usize; STEPS],
    factor: Cholesky<f64, Dyn>,
}

/// The readings of one capture.
struct Trip {
    places: Vec<Place>,
    y: Vec<f64>,
    error: Vec<f64>,
    /// Standard errors of bank 1 minus another bank (from 0) in a region, from the same moments.
    differences: Vec<(Place, f64)>,
}

impl Trims {
    /// Takes the captures together; `None` when no correction counted.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let trips: Vec<Trip> = summaries.iter().filter_map(Trip::of).collect();
        let mut places: Vec<Place> = trips.iter().flat_map(|trip| trip.places.clone()).collect();
        places.sort_unstable();
        places.dedup();
        let (estimate, spread) = combine(&trips, &places)?;
        let covariance = spread + between_cars(&places);
        let (steps, ends) = steps(&places);
        let scale = (&steps * covariance * steps.transpose()) * SCALE;
        Some(Self {
            stops: stops(summaries, &places),
            factor: scale.cholesky()?,
            places,
            estimate,
            steps,
            ends,
        })
    }

    /// Numbers that a step holds.
    fn rows_of(&self, step: usize) -> usize {
        let end = |step: usize| self.ends.get(step).copied().unwrap_or(0);
        end(step) - step.checked_sub(1).map_or(0, end)
    }

    /// Logarithm of the likelihood of each step, up to what is the same for all predictions.
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

    /// The covariance with what the prediction may be off by. Beyond a stop it does not matter how
    /// far off it is.
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
        let mut widen = |share: f64, concerned: &dyn Fn(&Place) -> bool| {
            let places = self.places.iter().zip(&self.stops).zip(residual);
            let here = places.map(|((place, stop), left)| {
                let beyond = *stop != 0.0 && *left == 0.0;
                if concerned(place) && !beyond {
                    share * at(effect, *place)
                } else {
                    0.0
                }
            });
            let off = DVector::from_iterator(self.places.len(), here);
            if off.amax() > 0.0 {
                factor.rank_one_update(&(&self.steps * off), SCALE);
            }
        };
        for region in Region::ALL {
            widen(model_error, &|place| place.region == region);
        }
        if prediction.bank_spread > 0.0 {
            for bank in Bank::ALL {
                widen(prediction.bank_spread, &|place| place.bank == bank);
            }
        }
        factor
    }

    /// The fuel that each bank lacks where its trims stand at their upper stop and more is
    /// predicted, as a logarithm; 0 elsewhere.
    pub fn lacking(&self, effect: &TrimEffect) -> TrimEffect {
        let mut lacking = TrimEffect::default();
        let rows = self.places.iter().zip(&self.stops).zip(&self.estimate);
        for ((place, stop), y) in rows {
            if *stop > 0.0 {
                lacking[place.bank][place.region] =
                    (healthy_mean(*place) + at(effect, *place) - y).max(0.0);
            }
        }
        lacking
    }

    /// What is left of the estimate. A correction at its stop is a lower bound: a prediction beyond
    /// it fits as well.
    fn residual(&self, effect: &TrimEffect) -> DVector<f64> {
        let rows = self.places.iter().zip(&self.stops).zip(&self.estimate);
        let left = rows.map(|((place, stop), y)| {
            let residual = y - healthy_mean(*place) - at(effect, *place);
            if residual * stop < 0.0 { 0.0 } else { residual }
        });
        DVector::from_iterator(self.places.len(), left)
    }
}

impl Trip {
    fn of(summary: &Summary) -> Option<Self> {
        let rows = summary.corrections().into_iter().filter_map(|trim| {
            let place = Place {
                bank: Bank::numbered(trim.bank)?,
                region: trim.region,
            };
            let sound = trim.mean_log.is_finite() && trim.std_error_log.is_finite();
            sound.then_some((place, trim.mean_log, trim.std_error_log.max(LEAST_ERROR)))
        });
        let mut rows: Vec<_> = rows.collect();
        rows.sort_by_key(|(place, ..)| *place);
        (!rows.is_empty()).then(|| Self {
            places: rows.iter().map(|row| row.0).collect(),
            y: rows.iter().map(|row| row.1).collect(),
            error: rows.iter().map(|row| row.2).collect(),
            differences: differences(summary),
        })
    }

    /// How far the errors of two banks' means in one region go together: each as far as it goes
    /// with bank 1's.
    fn shared(&self, a: Place, b: Place) -> f64 {
        self.shared_with_first(a) * self.shared_with_first(b)
    }

    /// By the error of the difference to bank 1, where it was measured: var(a − b) = var a + var b
    /// − 2 cov.
    fn shared_with_first(&self, place: Place) -> f64 {
        if place.bank == Bank::One {
            return 1.0;
        }
        let first = Place {
            bank: Bank::One,
            ..place
        };
        let error = |of: Place| {
            let index = self.places.binary_search(&of).ok()?;
            self.error.get(index).copied()
        };
        let measured = self.differences.iter().find(|(other, _)| *other == place);
        let (Some((_, difference)), Some(one), Some(other)) =
            (measured, error(first), error(place))
        else {
            return SHARED_BY_BANKS;
        };
        let sum = square(one) + square(other) - square(*difference);
        (sum / (2.0 * one * other)).clamp(0.0, MOST_SHARED)
    }

    /// What this trip adds by itself: its level, its departure by region and by bank, the errors of
    /// its means.
    ///
    /// Banks share fuel, weather and air: the error of a mean is mostly common to them.
    fn covariance(&self) -> DMatrix<f64> {
        let n = self.places.len();
        DMatrix::from_fn(n, n, |i, j| {
            let (Some(a), Some(b)) = (self.places.get(i), self.places.get(j)) else {
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

fn differences(summary: &Summary) -> Vec<(Place, f64)> {
    let all = summary.bank_differences.iter();
    let known = all.filter_map(|difference| {
        let place = Place {
            bank: Bank::numbered(difference.other)?,
            region: difference.region,
        };
        Some((place, difference.std_error_log.max(LEAST_ERROR)))
    });
    known.collect()
}

/// Share of the error of a mean that banks have in common where their difference was not measured
/// (fuel, weather and air are the same; an assumption).
pub(super) const SHARED_BY_BANKS: f64 = 0.75;
/// Most that they are taken to share.
const MOST_SHARED: f64 = 0.98;

/// One estimate of all places from all trips, with its covariance (generalised least squares).
fn combine(trips: &[Trip], places: &[Place]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let n = places.len();
    let mut precision = DMatrix::<f64>::zeros(n, n);
    let mut weighted = DVector::<f64>::zeros(n);
    for trip in trips {
        let inverse = trip.covariance().cholesky()?.inverse();
        let index: Vec<usize> = trip
            .places
            .iter()
            .filter_map(|place| places.binary_search(place).ok())
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

/// How healthy cars differ from the mean healthy car; the same on all trips of one car.
fn between_cars(places: &[Place]) -> DMatrix<f64> {
    let n = places.len();
    DMatrix::from_fn(n, n, |i, j| {
        let (Some(a), Some(b)) = (places.get(i), places.get(j)) else {
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

fn stops(summaries: &[Summary], places: &[Place]) -> Vec<f64> {
    let of = |place: &Place| {
        let here = summaries.iter().flat_map(Summary::corrections);
        let here =
            here.filter(|trim| trim.bank == place.bank.number() && trim.region == place.region);
        let stopped = here.filter(|trim| trim.at_stop >= AT_STOP);
        stopped
            .map(|trim| trim.mean_log.signum())
            .next()
            .unwrap_or(0.0)
    };
    places.iter().map(of).collect()
}

fn healthy_mean(place: Place) -> f64 {
    healthy::MEAN[place.region]
}

pub(super) fn at(values: &TrimEffect, place: Place) -> f64 {
    values[place.bank][place.region]
}

fn square(x: f64) -> f64 {
    x * x
}
