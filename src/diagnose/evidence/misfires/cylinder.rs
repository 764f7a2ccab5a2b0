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

/// Shape of the gamma distribution of a rate that a cause gives: a standard deviation of 80 % of
/// it.
const PREDICTED_SHAPE: f64 = 1.5;
/// The same where the rate hangs steeply on what is known roughly (assumed: two thirds lie within four times).
const STEEP_SHAPE: f64 = 0.6;
/// The same where nearly every firing fails: the rate cannot be higher, and counting pauses only now and then (common practice).
const CERTAIN_SHAPE: f64 = 40.0;
/// The same for what counters averaged over earlier trips, which nobody watched.
const HISTORY_SHAPE: f64 = 0.5;
/// The same of a healthy cylinder, whose car's rate is known.
const HEALTHY_HISTORY_SHAPE: f64 = 1.0;
/// The same where all cylinders fail for the same reason: a standard deviation of half of it.
const ALIKE_SHAPE: f64 = 4.0;
const ALIKE_HISTORY_SHAPE: f64 = 1.5;
/// In a region the odds of what a cause predicts may also be so many times higher or lower, each by this chance: charge motion and
/// counting are the engine's own; where they hang on a lean limit, one that is 0.06 off in air over fuel does as much
/// (assumed).
const KNOWN_TO: f64 = 2.5;
const LIMIT_KNOWN_TO: f64 = 6.0;
const OFF: f64 = 0.2;
/// Of a share of firings as small as this, as likely as not nothing fails that healthy ones do not lose too; of larger ones the
/// more seldom (assumed).
const HARDLY_FAILS: f64 = 0.001;
/// Chance that the earlier trips are of another car state: before a repair, or with another fault.
/// Any size of count is then as probable as any other, up to the largest that a counter shows.
const OTHER_STATE: f64 = 0.2;
pub const LARGEST_COUNT: f64 = 65_535.0;
/// Revolutions of a usual driving cycle (a quarter of an hour at 1500 rpm; common practice).
pub const USUAL_CYCLE_REV: f64 = 20_000.0;
/// Counters are read every few seconds, and regions change faster: so much of what fails in the
/// worst region is counted in another.
const COUNTED_ELSEWHERE: f64 = 0.01;
/// Misfires in one piece of the exposure.
#[derive(Debug, Clone, Copy, Default)]
pub struct Piece {
    pub count: f64,
    pub revolutions: f64,
    /// ln Γ(misfires + 1) of the misfires as they are counted against the predictions: over the dispersion.
    log_factorial: f64,
}

/// One cylinder.
#[derive(Debug, Clone)]
pub struct Cylinder {
    pub number: u8,
    pub pieces: [Piece; PIECES],
    pub dispersion: f64,
    /// Likelihood of a healthy cylinder by the car's rate, and its mean over all rates where it is told by what is booked.
    pub healthy: Scaled,
    /// The logarithm of that mean.
    pub any_healthy: f64,
    /// The same of one that fails by any rate.
    pub any_counts: f64,
}

/// Shapes of the rate that a cause gives: while it was watched, and on earlier trips.
#[derive(Debug, Clone, Copy)]
pub struct Shapes {
    watched: f64,
    history: f64,
    known_to: f64,
    alike: bool,
}

impl Shapes {
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

    /// The same for cylinders beside the one that fails most, of which little more is known than about how many fail.
    const fn beside(self) -> Self {
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
            pieces: [Piece::default(); PIECES],
            dispersion: 1.0,
            healthy: Scaled::of(&[0.0; WAYS]),
            any_healthy: 0.0,
            any_counts: 0.0,
        }
    }

    /// Misfires in all that was watched, as they are counted against the predictions.
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

    /// Works out what does not depend on a prediction, once all is added.
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

    /// Every number of misfires alike likely by its ratio, up to the largest that a counter shows. They fall on the pieces that
    /// were watched as the revolutions do, or, as likely, in every way.
    pub fn of_any_rate(&self) -> f64 {
        let watched = self.pieces.iter().filter(|piece| piece.revolutions > 0.0);
        let count = |piece: &Piece| piece.count / self.dispersion;
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
        let outside = Piece {
            count: (counter.count - inside).max(0.0),
            revolutions: (misfires.revolutions - inside_rev).max(0.0),
            ..Piece::default()
        };
        // an average of nothing says nothing: it may never have been kept
        let history = counter.average_of_ten.filter(|average| *average > 0.0);
        let history = history.map_or(Piece::default(), |count| Piece {
            count,
            revolutions: USUAL_CYCLE_REV,
            ..Piece::default()
        });
        let counts = counter.count_by_region.iter();
        let regions = counts.map(|(region, count)| Piece {
            count: *count,
            revolutions: misfires.revolutions_by_region[region],
            ..Piece::default()
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

    /// The sum of what was watched, and how it falls on the pieces. Earlier trips may have been of another state.
    fn of_a_healthy_one(&self, rates: &HealthyRate) -> f64 {
        let ([pieces @ .., history], [rates @ .., mixed]) = (&self.pieces, rates);
        let watched = pieces.iter().zip(rates);
        let watched = watched.filter(|(piece, _)| piece.revolutions > 0.0);
        let count = |piece: &Piece| piece.count / self.dispersion;
        let expected = |(piece, rate): (&Piece, &f64)| piece.revolutions * rate / self.dispersion;
        let all: f64 = watched.clone().map(|(piece, _)| count(piece)).sum();
        let mean: f64 = watched.clone().map(expected).sum();
        let stumbles = ln_gamma(all + 1.0)
            - all / healthy::STUMBLES
            - (all + 1.0).ln()
            - healthy::STUMBLES.ln_1p().ln();
        let sum = if mean > 0.0 {
            either(
                negative_binomial(all, mean, healthy::MISFIRE_SHAPE),
                stumbles,
                healthy::STUMBLING,
            )
        } else {
            0.0
        };
        let falls = watched.map(|(piece, rate)| {
            count(piece) * (expected((piece, rate)) / mean).ln() - piece.log_factorial
        });
        sum + falls.sum::<f64>() + self.piece(history, *mixed, HEALTHY_HISTORY_SHAPE, true)
    }

    /// With these shares of firings failing beside what a healthy cylinder does.
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

    /// With these shares failing, or nothing beside what healthy ones lose.
    pub fn felt(&self, failing: &ByRegion<f64>, shapes: Shapes) -> f64 {
        let felt = self.log_likelihood(failing, shapes);
        either(felt, self.any_healthy, nothing(failing, shapes))
    }

    /// The same by way, of one that is spared with this chance.
    pub fn felt_by_way(&self, failing: &ByRegion<f64>, shapes: Shapes, spared: f64) -> Scaled {
        let felt = self.log_likelihood(failing, shapes.beside());
        let nothing = spared + (1.0 - spared) * nothing(failing, shapes);
        self.healthy.or(felt, 1.0 - nothing)
    }

    /// A watched piece where this share of firings is only roughly what fails: its odds may be others.
    fn roughly(&self, piece: &Piece, share: f64, shapes: Shapes) -> f64 {
        if piece.revolutions <= 0.0 {
            return 0.0;
        }
        let known_to = shapes.known_to;
        let log = |times: f64| {
            let failing = share * times;
            let share = failing / (failing + 1.0 - share).max(f64::MIN_POSITIVE);
            // nearly every firing cannot be more
            let shape = (shapes.watched / (1.0 - share).max(1e-3)).min(CERTAIN_SHAPE);
            self.failing(piece, share, shape, false)
        };
        let [less, as_told, more] = [known_to.recip(), 1.0, known_to].map(log);
        let most = as_told.max(less).max(more);
        let off = OFF * ((less - most).exp() + (more - most).exp());
        most + (off + (1.0 - 2.0 * OFF) * (as_told - most).exp()).ln()
    }

    /// A piece where a share of firings fails beside what a healthy cylinder does.
    fn failing(&self, piece: &Piece, failing: f64, caused_shape: f64, history: bool) -> f64 {
        // each cylinder fires every second revolution
        let caused = 0.5 * failing;
        let rate = caused + healthy::MISFIRES_PER_REV;
        // between the two shapes by what makes up the rate
        let share = caused / rate;
        let shape = healthy::MISFIRE_SHAPE + share * (caused_shape - healthy::MISFIRE_SHAPE);
        self.piece(piece, rate, shape, history)
    }

    /// A piece with so many misfires for each revolution, by a gamma distribution of this shape.
    fn piece(&self, piece: &Piece, rate: f64, shape: f64, history: bool) -> f64 {
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

/// Chance that nothing fails where these shares are predicted; where all fail for the same reason, none is spared.
fn nothing(failing: &ByRegion<f64>, shapes: Shapes) -> f64 {
    if shapes.alike {
        return 0.0;
    }
    let worst = failing.values().copied().fold(0.0, f64::max);
    HARDLY_FAILS / (HARDLY_FAILS + worst)
}

/// Logarithm of the probability of a count whose mean is gamma-distributed with this mean and
/// shape, without the count's own factorial; for counts that are not whole by the gamma function.
pub fn negative_binomial(count: f64, mean: f64, shape: f64) -> f64 {
    if count == 0.0 {
        return shape * (shape / (shape + mean)).ln();
    }
    let ways = ln_gamma(count + shape) - ln_gamma(shape);
    ways + shape * (shape / (shape + mean)).ln() + count * (mean / (shape + mean)).ln()
}
