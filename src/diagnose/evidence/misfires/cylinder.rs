//! One cylinder's counts against a rate that a cause, or a healthy engine, would give.

use statrs::function::gamma::ln_gamma;

use super::ways::{HealthyRate, PIECES, Scaled, WAYS, either, healthy_rates};
use crate::{
    diagnose::{
        forward::{FailingKnown, Prediction},
        healthy,
    },
    series::{
        label::region::{ByRegion, Region},
        summary::{CylinderMisfires, MisfireSummary},
    },
    statistics::density::log_mixture,
};

/// Shape of the gamma distribution of a misfire rate under a cause: at 1.5 the standard deviation is 80 % of the mean
/// (assumed). The larger the shape, the more a count that differs from the prediction speaks against the cause.
const PREDICTED_SHAPE: f64 = 1.5;
/// Shape of the gamma distribution of a misfire rate that depends steeply on roughly known quantities (assumed: two
/// thirds of rates lie within a factor of four).
const STEEP_SHAPE: f64 = 0.6;
/// Shape of the gamma distribution of the rate where nearly every firing fails: the rate cannot be higher, and counting
/// pauses only now and then (common practice).
const CERTAIN_SHAPE: f64 = 40.0;
/// Shape of the gamma distribution of the rate behind counters averaged over earlier trips, whose driving is not known
/// (assumed).
const HISTORY_SHAPE: f64 = 0.5;
/// Shape of the gamma distribution of a healthy cylinder's rate on earlier trips, where the car's rate is known
/// (assumed).
const HEALTHY_HISTORY_SHAPE: f64 = 1.0;
/// Shape of the gamma distribution of the rate where all cylinders fail for the same reason: the standard deviation is
/// half of the mean (assumed).
const ALIKE_SHAPE: f64 = 4.0;
/// Shape of the gamma distribution of the rate on earlier trips where all cylinders fail for the same reason (assumed).
const ALIKE_HISTORY_SHAPE: f64 = 1.5;
/// Factor by which the odds of a failing firing in a region may be higher or lower than a cause predicts, because
/// charge motion and counting differ between engines (assumed).
const KNOWN_TO: f64 = 2.5;
/// Factor by which the odds of a failing firing in a region may be higher or lower where they depend on the lean limit:
/// a limit that is off by 0.06 in lambda does as much (assumed).
const LIMIT_KNOWN_TO: f64 = 6.0;
/// Probability, 0 to 1, that the odds are higher by that factor, and likewise that they are lower (assumed).
const OFF: f64 = 0.2;
/// Share of firings that fail at which it is as likely as not that nothing fails beyond what healthy cylinders do; for
/// larger shares this is less likely (assumed).
const HARDLY_FAILS: f64 = 0.001;
/// Probability, 0 to 1, that the averages of earlier trips describe a different state of the car: before a repair, or
/// with a different fault (assumed). Any size of count is then equally probable in its logarithm, up to
/// [`LARGEST_COUNT`]. The larger it is, the less an average that a cause does not fit speaks against that cause.
const OTHER_STATE: f64 = 0.2;
/// Largest count that a misfire counter can hold: two bytes (service 06, SAE J1979).
pub const LARGEST_COUNT: f64 = 65_535.0;
/// Revolutions of a usual driving cycle: a quarter of an hour at about 1500 rpm (common practice).
pub const USUAL_CYCLE_REV: f64 = 20_000.0;
/// Share of the misfires in the worst region that is counted in a different one, 0 to 1: counters are read every few
/// seconds, and regions change faster (assumed).
const COUNTED_ELSEWHERE: f64 = 0.01;
/// Misfires and revolutions in one piece of the exposure.
#[derive(Debug, Clone, Copy, Default)]
pub struct ExposurePiece {
    pub count: f64,
    pub revolutions: f64,
    /// ln Γ(misfires + 1), with the misfires divided by the dispersion as for scoring.
    log_factorial: f64,
}

/// The counts of one cylinder.
#[derive(Debug, Clone)]
pub struct Cylinder {
    pub number: u8,
    pub pieces: [ExposurePiece; PIECES],
    pub dispersion: f64,
    /// Likelihoods of a healthy cylinder by the car's rate; for ways that misattribute misfires, the mean over all
    /// rates.
    pub healthy: Scaled,
    /// Logarithm of the mean, over all rates, of the likelihood of a healthy cylinder.
    pub any_healthy: f64,
    /// Logarithm of the likelihood of a cylinder that fails at any rate.
    pub any_counts: f64,
}

/// Gamma shapes of the rate under a cause: while recorded, and on earlier trips.
#[derive(Debug, Clone, Copy)]
pub struct Shapes {
    watched: f64,
    history: f64,
    known_to: f64,
    alike: bool,
}

impl Shapes {
    /// The shapes that suit how precisely a prediction knows its failing firings.
    pub const fn of(prediction: &Prediction) -> Self {
        let known = prediction.failing_known;
        let (watched, history, known_to) = match known {
            FailingKnown::Roughly => (PREDICTED_SHAPE, HISTORY_SHAPE, KNOWN_TO),
            FailingKnown::ByLimit => (PREDICTED_SHAPE, HISTORY_SHAPE, LIMIT_KNOWN_TO),
            FailingKnown::Steeply => (STEEP_SHAPE, HISTORY_SHAPE, LIMIT_KNOWN_TO),
            FailingKnown::Alike => (ALIKE_SHAPE, ALIKE_HISTORY_SHAPE, 1.0),
        };
        Self {
            watched,
            history,
            known_to,
            alike: matches!(known, FailingKnown::Alike),
        }
    }

    /// The shapes for cylinders next to the one that fails most, of which little more is known than about how many
    /// fail.
    const fn of_neighbours(self) -> Self {
        if self.alike {
            self
        } else {
            Self {
                watched: STEEP_SHAPE,
                known_to: 1.0,
                ..self
            }
        }
    }
}

impl Cylinder {
    pub fn new(number: u8) -> Self {
        Self {
            number,
            pieces: [ExposurePiece::default(); PIECES],
            dispersion: 1.0,
            healthy: Scaled::of(&[0.0; WAYS]),
            any_healthy: 0.0,
            any_counts: 0.0,
        }
    }

    /// Misfires in everything that was recorded, divided by the dispersion as for scoring.
    pub fn all_counts(&self) -> f64 {
        let watched = self.pieces.iter().filter(|piece| piece.revolutions > 0.0);
        watched.map(|piece| piece.count / self.dispersion).sum()
    }

    pub fn has_history(&self) -> bool {
        self.pieces
            .last()
            .is_some_and(|last| last.revolutions > 0.0)
    }

    pub fn keep_history(&mut self) {
        if let Some(last) = self.pieces.last_mut() {
            last.revolutions = USUAL_CYCLE_REV;
        }
    }

    /// Computes what does not depend on a prediction, once all counts are added.
    pub fn prepare(&mut self) {
        self.count_ways();
        let by_rate = healthy_rates().map(|(_, rates)| self.of_a_healthy_one(&rates));
        let each = by_rate.iter().zip(healthy_rates());
        self.any_healthy = log_mixture(each.map(|(own, (weight, _))| (weight, *own)));
        let any = self.any_healthy;
        let by_way = std::array::from_fn(|way| by_rate.get(way).copied().unwrap_or(any));
        self.healthy = Scaled::of(&by_way);
        self.any_counts = self.of_any_rate();
    }

    pub fn count_ways(&mut self) {
        for piece in &mut self.pieces {
            piece.log_factorial = ln_gamma(piece.count / self.dispersion + 1.0);
        }
    }

    /// Log-likelihood of a cylinder that fails at any rate: every number of misfires is equally probable in its
    /// logarithm, up to the largest that a counter holds. The misfires fall on the recorded pieces in proportion to
    /// revolutions or, as likely, in any way.
    pub fn of_any_rate(&self) -> f64 {
        let watched = self.pieces.iter().filter(|piece| piece.revolutions > 0.0);
        let count = |piece: &ExposurePiece| piece.count / self.dispersion;
        let all = self.all_counts();
        let pieces = (watched.clone().count() as f64).max(1.0);
        let revolutions: f64 = watched.clone().map(|piece| piece.revolutions).sum();
        let ways = ln_gamma(all + pieces) - ln_gamma(all + 1.0) - ln_gamma(pieces);
        let falls = watched.map(|piece| {
            count(piece) * (piece.revolutions / revolutions).ln() - piece.log_factorial
        });
        let as_revolutions = ln_gamma(all + 1.0) + falls.sum::<f64>();
        -(all + 1.0).ln() - LARGEST_COUNT.ln().ln() + either(-ways, as_revolutions, 0.5)
    }

    pub fn add(&mut self, misfires: &MisfireSummary, counter: &CylinderMisfires) {
        let inside_rev: f64 = misfires.revolutions_by_region.values().sum();
        let inside: f64 = counter.count_by_region.values().sum();
        let outside = ExposurePiece {
            count: (counter.count - inside).max(0.0),
            revolutions: (misfires.revolutions - inside_rev).max(0.0),
            ..ExposurePiece::default()
        };
        // an average of zero says nothing: it may never have been stored
        let history = counter.average_of_ten.filter(|average| *average > 0.0);
        let history = history.map_or(ExposurePiece::default(), |count| ExposurePiece {
            count,
            revolutions: USUAL_CYCLE_REV,
            ..ExposurePiece::default()
        });
        let counts = counter.count_by_region.iter();
        let regions = counts.map(|(region, count)| ExposurePiece {
            count: *count,
            revolutions: misfires.revolutions_by_region[region],
            ..ExposurePiece::default()
        });
        let new = regions.chain([outside]);
        for (piece, more) in self.pieces.iter_mut().zip(new) {
            piece.count += more.count;
            piece.revolutions += more.revolutions;
        }
        if let Some(last) = self.pieces.last_mut()
            && history.revolutions > 0.0
        {
            *last = history;
        }
        self.dispersion = self.dispersion.max(counter.dispersion);
    }

    /// Log-likelihood of a healthy cylinder with these rates: the sum of what was recorded, and how it falls on the
    /// pieces. Earlier trips may have been in a different state.
    fn of_a_healthy_one(&self, rates: &HealthyRate) -> f64 {
        let ([pieces @ .., history], [rates @ .., mixed]) = (&self.pieces, rates);
        let watched = pieces.iter().zip(rates);
        let watched = watched.filter(|(piece, _)| piece.revolutions > 0.0);
        let count = |piece: &ExposurePiece| piece.count / self.dispersion;
        let expected =
            |(piece, rate): (&ExposurePiece, &f64)| piece.revolutions * rate / self.dispersion;
        let all: f64 = watched.clone().map(|(piece, _)| count(piece)).sum();
        let mean: f64 = watched.clone().map(expected).sum();
        let spurious = ln_gamma(all + 1.0)
            - all / healthy::SPURIOUS_MISFIRES
            - (all + 1.0).ln()
            - healthy::SPURIOUS_MISFIRES.ln_1p().ln();
        let sum = if mean > 0.0 {
            either(
                negative_binomial(all, mean, healthy::MISFIRE_SHAPE),
                spurious,
                healthy::SPURIOUS,
            )
        } else {
            0.0
        };
        let falls = watched.map(|(piece, rate)| {
            count(piece) * (expected((piece, rate)) / mean).ln() - piece.log_factorial
        });
        sum + falls.sum::<f64>() + self.piece(history, *mixed, HEALTHY_HISTORY_SHAPE, true)
    }

    /// Log-likelihood where these shares of firings fail beyond what a healthy cylinder does.
    pub fn log_likelihood(&self, failing: &ByRegion<f64>, shapes: Shapes) -> f64 {
        let worst = failing.values().copied().fold(0.0, f64::max);
        let spilt = COUNTED_ELSEWHERE * worst;
        let elsewhere = 0.5 * (failing[Region::WarmIdle] + failing[Region::LightCruise]);
        let shares = failing.values().copied().chain([elsewhere, elsewhere]);
        let pieces = self.pieces.iter().zip(shares).enumerate();
        pieces
            .map(|(index, (piece, share))| {
                let share = share.max(spilt);
                match index + 1 == PIECES {
                    true => self.failing(piece, share, shapes.history, true),
                    false if shapes.known_to > 1.0 => self.roughly(piece, share, shapes),
                    false => self.failing(piece, share, shapes.watched, false),
                }
            })
            .sum()
    }

    /// Log-likelihood where these shares of firings fail, or nothing beyond what healthy cylinders do.
    pub fn noticeable(&self, failing: &ByRegion<f64>, shapes: Shapes) -> f64 {
        let noticeable = self.log_likelihood(failing, shapes);
        either(noticeable, self.any_healthy, nothing(failing, shapes))
    }

    /// Likelihoods by way of a cylinder on which these shares of firings fail, and which is spared with probability
    /// `spared`.
    pub fn noticeable_by_way(
        &self,
        failing: &ByRegion<f64>,
        shapes: Shapes,
        spared: f64,
    ) -> Scaled {
        let noticeable = self.log_likelihood(failing, shapes.of_neighbours());
        let nothing = spared + (1.0 - spared) * nothing(failing, shapes);
        self.healthy.or(noticeable, 1.0 - nothing)
    }

    /// Log-likelihood of a recorded piece where a share of firings fails that is known only roughly.
    fn roughly(&self, piece: &ExposurePiece, share: f64, shapes: Shapes) -> f64 {
        if piece.revolutions <= 0.0 {
            return 0.0;
        }
        let known_to = shapes.known_to;
        let log = |times: f64| {
            let failing = share * times;
            let share = failing / (failing + 1.0 - share).max(f64::MIN_POSITIVE);
            // where nearly every firing fails, no more can fail
            let shape = (shapes.watched / (1.0 - share).max(1e-3)).min(CERTAIN_SHAPE);
            self.failing(piece, share, shape, false)
        };
        let [less, as_predicted, more] = [known_to.recip(), 1.0, known_to].map(log);
        let most = as_predicted.max(less).max(more);
        let off = OFF * ((less - most).exp() + (more - most).exp());
        most + (off + (1.0 - 2.0 * OFF) * (as_predicted - most).exp()).ln()
    }

    /// Log-likelihood of a piece where a share of firings fails beyond what a healthy cylinder does.
    fn failing(
        &self,
        piece: &ExposurePiece,
        failing: f64,
        caused_shape: f64,
        history: bool,
    ) -> f64 {
        // each cylinder fires every second revolution
        let caused = 0.5 * failing;
        let rate = caused + healthy::MISFIRES_PER_REV;
        // between the two shapes, by what makes up the rate
        let share = caused / rate;
        let shape = healthy::MISFIRE_SHAPE + share * (caused_shape - healthy::MISFIRE_SHAPE);
        self.piece(piece, rate, shape, history)
    }

    /// Log-likelihood of a piece at `rate` misfires per revolution, with a gamma distribution of this shape.
    fn piece(&self, piece: &ExposurePiece, rate: f64, shape: f64, history: bool) -> f64 {
        if piece.revolutions <= 0.0 {
            return 0.0;
        }
        let count = piece.count / self.dispersion;
        let mean = piece.revolutions * rate / self.dispersion;
        let log = negative_binomial(count, mean, shape) - piece.log_factorial;
        if history {
            let any_size = 1.0 / ((count + 1.0) * LARGEST_COUNT.ln());
            ((1.0 - OTHER_STATE) * log.exp() + OTHER_STATE * any_size).ln()
        } else {
            log
        }
    }
}

/// Probability that nothing fails where these shares are predicted, 0 to 1; 0 where all cylinders fail for the same
/// reason.
fn nothing(failing: &ByRegion<f64>, shapes: Shapes) -> f64 {
    if shapes.alike {
        return 0.0;
    }
    let worst = failing.values().copied().fold(0.0, f64::max);
    HARDLY_FAILS / (HARDLY_FAILS + worst)
}

/// Log-probability of a count whose mean is gamma-distributed with this mean and shape (negative binomial), without the
/// count's own factorial; non-integer counts use the gamma function.
pub fn negative_binomial(count: f64, mean: f64, shape: f64) -> f64 {
    if count == 0.0 {
        return shape * (shape / (shape + mean)).ln();
    }
    let ways = ln_gamma(count + shape) - ln_gamma(shape);
    ways + shape * (shape / (shape + mean)).ln() + count * (mean / (shape + mean)).ln()
}
