//! Misfire counts against a prediction.
//!
//! Counts are negative binomial: a Poisson count whose rate is itself uncertain by a gamma
//! distribution, because the rate that a cause would give is known only roughly, and revolutions
//! are only an upper bound of the exposure. Bursts widen it by the measured dispersion
//! (quasi-Poisson). Counters that never moved may be dead ones.

use statrs::function::gamma::ln_gamma;

use crate::{
    series::summary::{CylinderMisfires, MisfireSummary, Summary},
    statistics::log_sum::log_sum,
};

use super::super::{
    engine::{ByRegion, REGIONS},
    forward::{Place, Prediction},
    healthy,
};

/// Shape of the gamma distribution of a rate that a cause gives: a standard deviation of 80 % of
/// it.
const PREDICTED_SHAPE: f64 = 1.5;
/// The same where the rate hangs steeply on what is known roughly (assumed: two thirds lie within four times).
const STEEP_SHAPE: f64 = 0.6;
/// The same where nearly every firing fails: the rate cannot be higher, and counting pauses only (common practice).
const CERTAIN_SHAPE: f64 = 8.0;
/// The same for what counters averaged over earlier trips, which nobody watched.
const HISTORY_SHAPE: f64 = 0.5;
/// The same where all cylinders fail for the same reason: a standard deviation of half of it.
const ALIKE_SHAPE: f64 = 4.0;
const ALIKE_HISTORY_SHAPE: f64 = 1.5;
/// Chance that the earlier trips are of another car state: before a repair, or with another fault.
/// Any size of count is then as probable as any other, up to the largest that a counter shows.
const OTHER_STATE: f64 = 0.2;
const LARGEST_COUNT: f64 = 65_535.0;
/// Revolutions of a usual driving cycle (a quarter of an hour at 1500 rpm; common practice).
const USUAL_CYCLE_REV: f64 = 20_000.0;
/// Where a cylinder fails plainly (share of its firings), chance for each other one that some of its misfires are put
/// down to it, or that it fails too for what the first does to the engine; any number of them (common practice).
const PLAINLY: f64 = 0.01;
const MISTAKEN: f64 = 0.03;
/// The same where it fails more often than not: the crank's speed is disturbed in every turn, and the bank's mixture is no
/// longer the neighbours' (common practice).
const MOSTLY: f64 = 0.5;
const MOSTLY_MISTAKEN: f64 = 0.3;
/// Chance that counters which never moved on any cylinder do not count at all (common practice).
const DEAD_COUNTERS: f64 = 0.2;
/// Counters are read every few seconds, and regions change faster: so much of what fails in the
/// worst region is counted in another.
const COUNTED_ELSEWHERE: f64 = 0.01;
/// Shares of failing firings below this are lost in what a healthy cylinder does (a quarter of its mean).
const NEGLIGIBLE: f64 = 0.5 * healthy::MISFIRES_PER_REV;
/// Pieces of the exposure: the regions, what lies outside them, and earlier trips.
const PIECES: usize = REGIONS + 2;

/// Rates that healthy cylinders may have, as array length.
const RATES: usize = healthy::MISFIRE_RATES.len();

/// Misfires in one piece of the exposure.
#[derive(Debug, Clone, Copy, Default)]
struct Piece {
    count: f64,
    revolutions: f64,
    /// ln Γ(misfires + 1) of the misfires as they are counted against the predictions: over the dispersion.
    log_factorial: f64,
}

/// A value for each rate that healthy cylinders of a car may have.
type ByRate = [f64; RATES];

/// One cylinder.
#[derive(Debug, Clone)]
struct Cylinder {
    number: u8,
    pieces: [Piece; PIECES],
    dispersion: f64,
    /// Logarithm of the likelihood of a healthy cylinder, by the car's rate.
    healthy: ByRate,
    /// The same of one that fails by any rate.
    any_counts: f64,
    /// `healthy`, or now and then counted in place of a neighbour that fails plainly; the same where it fails mostly.
    healthy_beside: [ByRate; 2],
}

/// All counters, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Misfires {
    cylinders: Vec<Cylinder>,
    moved: bool,
}

impl Misfires {
    /// Takes the captures together; `None` without counters.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let mut cylinders: Vec<Cylinder> = Vec::new();
        let mut moved = false;
        for misfires in summaries
            .iter()
            .filter_map(|summary| summary.misfires.as_ref())
        {
            for counter in &misfires.cylinders {
                moved |= counter.counter_high > 0.0 || counter.average_of_ten > Some(0.0);
                let known = cylinders.iter().position(|c| c.number == counter.cylinder);
                let index = known.unwrap_or(cylinders.len());
                if known.is_none() {
                    cylinders.push(Cylinder::new(counter.cylinder));
                }
                if let Some(cylinder) = cylinders.get_mut(index) {
                    cylinder.add(misfires, counter);
                }
            }
        }
        // where one average was kept, nothing is an average too
        let kept = cylinders.iter().any(Cylinder::has_history);
        for cylinder in &mut cylinders {
            if kept {
                cylinder.keep_history();
            }
            cylinder.count_ways();
            cylinder.healthy =
                healthy::MISFIRE_RATES.map(|(_, rate)| cylinder.of_a_healthy_one(rate));
            cylinder.any_counts = cylinder.of_any_rate();
            cylinder.healthy_beside = [MISTAKEN, MOSTLY_MISTAKEN].map(|chance| {
                cylinder
                    .healthy
                    .map(|own| cylinder.or_mistaken(own, chance))
            });
        }
        (!cylinders.is_empty()).then_some(Self { cylinders, moved })
    }

    /// Numbers of the cylinders that have a counter.
    pub fn numbers(&self) -> impl Iterator<Item = u8> {
        self.cylinders.iter().map(|cylinder| cylinder.number)
    }

    /// Logarithm of the likelihood of all counts with a cause at this place. `bank_of` gives the
    /// bank (from 0) of a cylinder, where it is known.
    pub fn log_likelihood(
        &self,
        place: Place,
        prediction: &Prediction,
        bank_of: impl Fn(u8) -> Option<usize>,
    ) -> f64 {
        let worst = prediction.failing.iter().copied().fold(0.0, f64::max);
        // the car's rate is the same for all that are healthy
        let mut live = healthy::MISFIRE_RATES.map(|(weight, _)| f64::ln(weight));
        for cylinder in &self.cylinders {
            let meant = place.cylinder == Some(cylinder.number);
            let failing = match meant {
                true => prediction.failing,
                false => others(place, prediction, bank_of(cylinder.number)),
            };
            let beside = worst > PLAINLY && !meant && place.cylinder.is_some();
            let [beside_plainly, beside_mostly] = cylinder.healthy_beside;
            let (mistaken, healthy_beside) = match worst > MOSTLY {
                true => (MOSTLY_MISTAKEN, beside_mostly),
                false => (MISTAKEN, beside_plainly),
            };
            let felt = is_felt(&failing)
                .then(|| cylinder.log_likelihood(&failing, Shapes::of(prediction)));
            let own = match (felt, beside) {
                (Some(felt), true) => [cylinder.or_mistaken(felt, mistaken); RATES],
                (Some(felt), false) => [felt; RATES],
                (None, true) => healthy_beside,
                (None, false) => cylinder.healthy,
            };
            for (sum, own) in live.iter_mut().zip(own) {
                *sum += own;
            }
        }
        let live = log_sum(live.into_iter());
        if self.moved {
            return live;
        }
        (DEAD_COUNTERS + (1.0 - DEAD_COUNTERS) * live.exp()).ln()
    }
}

/// Whether failing firings stand out of what a healthy cylinder does.
fn is_felt(failing: &ByRegion) -> bool {
    failing.iter().any(|share| *share > NEGLIGIBLE)
}

/// ln((1 − chance) eᵃ + chance eᵇ).
fn either(a: f64, b: f64, chance: f64) -> f64 {
    log_sum([a + (1.0 - chance).ln(), b + chance.ln()].into_iter())
}

/// What a cylinder that is not meant fails by: on the bank meant, on another, or half of each when
/// that is not known.
fn others(place: Place, prediction: &Prediction, bank: Option<usize>) -> ByRegion {
    let beside = prediction.failing_beside;
    let elsewhere = prediction.failing_elsewhere;
    match (place.bank, bank) {
        (Some(meant), Some(bank)) if meant == bank => beside,
        (Some(_), Some(_)) => elsewhere,
        (Some(_), None) => {
            let mut half = beside;
            for (share, other) in half.iter_mut().zip(elsewhere) {
                *share = 0.5 * (*share + other);
            }
            half
        }
        (None, _) => beside,
    }
}

/// Shapes of the rate that a cause gives: while it was watched, and on earlier trips.
#[derive(Debug, Clone, Copy)]
struct Shapes {
    watched: f64,
    history: f64,
}

impl Shapes {
    const fn of(prediction: &Prediction) -> Self {
        let (watched, history) = match (prediction.failing_alike, prediction.failing_steeply) {
            (true, _) => (ALIKE_SHAPE, ALIKE_HISTORY_SHAPE),
            (false, true) => (STEEP_SHAPE, HISTORY_SHAPE),
            (false, false) => (PREDICTED_SHAPE, HISTORY_SHAPE),
        };
        Self { watched, history }
    }
}

impl Cylinder {
    fn new(number: u8) -> Self {
        Self {
            number,
            pieces: [Piece::default(); PIECES],
            dispersion: 1.0,
            healthy: Default::default(),
            any_counts: 0.0,
            healthy_beside: Default::default(),
        }
    }

    /// With the chance that misfires of a neighbour are counted here.
    fn or_mistaken(&self, own: f64, chance: f64) -> f64 {
        either(own, self.any_counts, chance)
    }

    fn has_history(&self) -> bool {
        self.pieces
            .last()
            .is_some_and(|last| last.revolutions > 0.0)
    }

    fn keep_history(&mut self) {
        if let Some(last) = self.pieces.last_mut() {
            last.revolutions = USUAL_CYCLE_REV;
        }
    }

    fn count_ways(&mut self) {
        for piece in &mut self.pieces {
            piece.log_factorial = ln_gamma(piece.count / self.dispersion + 1.0);
        }
    }

    /// Every number of misfires alike likely by its ratio, up to the largest that a counter shows. They fall on the pieces that
    /// were watched as the revolutions do, or, as likely, in every way.
    fn of_any_rate(&self) -> f64 {
        let watched = self.pieces.iter().filter(|piece| piece.revolutions > 0.0);
        let count = |piece: &Piece| piece.count / self.dispersion;
        let all: f64 = watched.clone().map(count).sum();
        let pieces = (watched.clone().count() as f64).max(1.0);
        let revolutions: f64 = watched.clone().map(|piece| piece.revolutions).sum();
        let ways = ln_gamma(all + pieces) - ln_gamma(all + 1.0) - ln_gamma(pieces);
        let falls = watched.map(|piece| {
            count(piece) * (piece.revolutions / revolutions).ln() - piece.log_factorial
        });
        let as_revolutions = ln_gamma(all + 1.0) + falls.sum::<f64>();
        -(all + 1.0).ln() - LARGEST_COUNT.ln().ln() + either(-ways, as_revolutions, 0.5)
    }

    fn add(&mut self, misfires: &MisfireSummary, counter: &CylinderMisfires) {
        let inside_rev: f64 = misfires.revolutions_by_region.iter().sum();
        let inside: f64 = counter.count_by_region.iter().sum();
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
        let regions = counts.zip(&misfires.revolutions_by_region);
        let regions = regions.map(|(count, revolutions)| Piece {
            count: *count,
            revolutions: *revolutions,
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

    /// One rate everywhere: the sum of what was watched, and how it falls on the pieces by their revolutions. Earlier trips
    /// may have been of another state.
    fn of_a_healthy_one(&self, rate: f64) -> f64 {
        let [pieces @ .., history] = &self.pieces;
        let watched = pieces.iter().filter(|piece| piece.revolutions > 0.0);
        let revolutions: f64 = watched.clone().map(|piece| piece.revolutions).sum();
        let count = |piece: &Piece| piece.count / self.dispersion;
        let all: f64 = watched.clone().map(count).sum();
        let mean = revolutions * rate / self.dispersion;
        let sum = match revolutions > 0.0 {
            true => negative_binomial(all, mean, healthy::MISFIRE_SHAPE) - ln_gamma(all + 1.0),
            false => 0.0,
        };
        let falls = watched.map(|piece| {
            count(piece) * (piece.revolutions / revolutions).ln() - piece.log_factorial
        });
        sum + ln_gamma(all + 1.0)
            + falls.sum::<f64>()
            + self.piece(history, 0.0, HISTORY_SHAPE, true)
    }

    /// With these shares of firings failing beside what a healthy cylinder does.
    fn log_likelihood(&self, failing: &ByRegion, shapes: Shapes) -> f64 {
        let worst = failing.iter().copied().fold(0.0, f64::max);
        let spilt = COUNTED_ELSEWHERE * worst;
        let [idle, _, cruise, _] = failing;
        let elsewhere = 0.5 * (idle + cruise);
        let shares = failing.iter().copied().chain([elsewhere, elsewhere]);
        let pieces = self.pieces.iter().zip(shares).enumerate();
        pieces
            .map(|(index, (piece, share))| {
                let share = share.max(spilt);
                match index + 1 == PIECES {
                    true => self.piece(piece, share, shapes.history, true),
                    false => {
                        // nearly every firing cannot be more
                        let certain = (shapes.watched / (1.0 - share).max(1e-3)).min(CERTAIN_SHAPE);
                        self.piece(piece, share, certain, false)
                    }
                }
            })
            .sum()
    }

    fn piece(&self, piece: &Piece, failing: f64, caused_shape: f64, history: bool) -> f64 {
        if piece.revolutions <= 0.0 {
            return 0.0;
        }
        // each cylinder fires every second revolution
        let caused = 0.5 * failing;
        let rate = caused + healthy::MISFIRES_PER_REV;
        // between the two shapes by what makes up the rate
        let share = caused / rate;
        let shape = healthy::MISFIRE_SHAPE + share * (caused_shape - healthy::MISFIRE_SHAPE);
        let count = piece.count / self.dispersion;
        let mean = piece.revolutions * rate / self.dispersion;
        let log = negative_binomial(count, mean, shape) - piece.log_factorial;
        match history {
            true => {
                let any_size = 1.0 / ((count + 1.0) * LARGEST_COUNT.ln());
                ((1.0 - OTHER_STATE) * log.exp() + OTHER_STATE * any_size).ln()
            }
            false => log,
        }
    }
}

/// Logarithm of the probability of a count whose mean is gamma-distributed with this mean and
/// shape, without the count's own factorial; for counts that are not whole by the gamma function.
fn negative_binomial(count: f64, mean: f64, shape: f64) -> f64 {
    let ways = ln_gamma(count + shape) - ln_gamma(shape);
    ways + shape * (shape / (shape + mean)).ln() + count * (mean / (shape + mean)).ln()
}

#[cfg(test)]
mod tests;
