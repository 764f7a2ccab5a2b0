//! Did the fuel trims move when the car was refuelled?
//!
//! A different fuel comes with a refuelling and moves every region of every bank alike. Any other cause may have begun
//! between two captures too, but that is rare, and it moves its own regions. Where the gauge proves that the car was
//! not refuelled, no new fuel came. Where there is no gauge, the car may have been refuelled where the fuel trims moved
//! most. Where the gauge may hide that as much was added as was burnt, or the order of the captures is not known, there
//! is no evidence.

use nalgebra::{DMatrix, DVector};

use crate::{
    bank::Bank,
    series::{
        label::region::{ByRegion, Region},
        summary::Summary,
        tank::{SWING, in_order, most_added, risen, was_refuelled},
        variation,
    },
    statistics::density::{log_mixture, log_student_t},
};

use super::{
    super::{fact::Tank, forward::Prediction},
    Case, Conditions, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
    steps::TrimKey,
    trims::{LEAST_ERROR, SCALE, SHARED_BY_BANKS, at},
};

/// Probability, 0 to 1, that a cause other than the fuel began just between the captures of one car (assumed: they are
/// mostly of one visit).
const BEGAN_BETWEEN: f64 = 0.05;
/// Probability, 0 to 1, of a refuelling between two captures of a car without fuel gauge data (assumed: most are of one
/// visit, and a tank lasts for a week or two).
const REFUELLED_UNSEEN: f64 = 0.3;

/// Movement of one fuel trim.
#[derive(Debug, Clone, Copy)]
struct Move {
    key: TrimKey,
    by_log: f64,
    /// Standard error of the movement within the trips.
    error: f64,
    /// Variance that single trips add, as a multiple of one trip's: the sum of one over the number of trips on each
    /// side; 0 within a trip.
    trips: f64,
    /// Share of the recording there that lies after the refuelling, 0 to 1.
    after_share: f64,
}

/// Evidence from the movement, where fuel trims were recorded before and after.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let refuel = RefuelEvidence::new(sources.summaries)?;
    let (moved_log, apart_log) = refuel.movement();
    let fact = Fact::Refuelling {
        moved_log,
        apart_log,
        tank: refuel.tank,
    };
    Some(Piece::new(refuel, Some(fact)))
}

impl Evidence for RefuelEvidence {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.new_fuel = self.new_fuel();
    }
}

/// How far the fuel trims moved, and what happened to the tank.
#[derive(Debug, Clone)]
pub struct RefuelEvidence {
    tank: Tank,
    moves: Vec<Move>,
    precision: DMatrix<f64>,
    unmoved: f64,
}

impl RefuelEvidence {
    /// Combines the captures; `None` for a single capture without a refuelling, for captures in unknown order, and
    /// where nothing was recorded on both sides.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let (tank, moves) = between(summaries).or_else(|| within(summaries))?;
        let precision = covariance(&moves).cholesky()?.inverse();
        let mut refuel = Self {
            tank,
            moves,
            precision,
            unmoved: 0.0,
        };
        refuel.unmoved = refuel.fit(|_| 0.0);
        Some(refuel)
    }

    /// Share of each region's recording that lies after the refuelling, certain or not; `None` where the car was not
    /// refuelled.
    pub fn new_fuel(&self) -> Option<ByRegion<f64>> {
        (self.tank != Tank::NotRefuelled).then(|| {
            let all = |shares: f64, m: &Move| shares + m.after_share;
            let mean = self.moves.iter().fold(0.0, all) / self.moves.len() as f64;
            ByRegion::from_fn(|region| {
                let mut here = self.moves.iter().filter(|m| m.key.region == region);
                here.next().map_or(mean, |m| m.after_share)
            })
        })
    }

    /// Mean of the movements and their standard deviation, as logarithms.
    pub fn movement(&self) -> (f64, f64) {
        let all = self.moves.iter().map(|m| m.by_log);
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(low, high), y| {
            (low.min(y), high.max(y))
        });
        (mean(&self.moves), high - low)
    }

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        if let Some(needed) = prediction.came_with_refuelling {
            let came = self.fit(|_| needed);
            return match self.tank {
                Tank::Unknown => log_mixture([
                    (REFUELLED_UNSEEN, came),
                    (1.0 - REFUELLED_UNSEEN, self.unmoved),
                ]),
                Tank::Refuelled(..) | Tank::NotRefuelled => came,
            };
        }
        if prediction.ethanol_change != 0.0 {
            return self.unmoved;
        }
        let effect = prediction.total();
        if effect
            .values()
            .all(|regions| regions.values().all(|y| *y == 0.0))
        {
            return self.unmoved;
        }
        let moved = self.fit(|key| at(&effect, key));
        // ln((1 − b) e^unmoved + b e^moved)
        let gain = BEGAN_BETWEEN * (moved - self.unmoved).min(500.0).exp_m1();
        self.unmoved + gain.ln_1p()
    }

    fn fit(&self, predicted: impl Fn(TrimKey) -> f64) -> f64 {
        let left = self.moves.iter().map(|m| m.by_log - predicted(m.key));
        let left = DVector::from_iterator(self.moves.len(), left);
        let distance = left.dot(&(&self.precision * &left));
        log_student_t(distance, self.moves.len() as f64, DEGREES_OF_FREEDOM)
    }
}

/// Movements from the captures before the latest refuelling to those after it. Without a refuelling: from all earlier
/// captures to the last one, if the car was surely not refuelled; without a gauge, across the point where the trims
/// moved most.
fn between(summaries: &[Summary]) -> Option<(Tank, Vec<Move>)> {
    // fuel that came inside one of several captures: it is not clear which trims have it
    let unclear = |s: &Summary| s.facts.started.is_none() || s.refuelling.is_some();
    if summaries.iter().any(unclear) {
        return None;
    }
    let all = in_order(summaries);
    let pairs: Vec<(&Summary, &Summary)> = all
        .iter()
        .copied()
        .zip(all.iter().copied().skip(1))
        .collect();
    let filled = pairs.iter().rposition(|(a, b)| was_refuelled(a, b));
    if let Some(index) = filled {
        let (earlier, later) = *pairs.get(index)?;
        let (_, from) = earlier.facts.fuel_level_pct?;
        let (to, _) = later.facts.fuel_level_pct?;
        return Some((Tank::Refuelled(from, to), moves_over(&all, index + 1)?));
    }
    let no_gauge = |(a, b): &(&Summary, &Summary)| risen(&a.facts, &b.facts).is_none();
    let may_be = (1..).zip(&pairs).filter(|(_, pair)| no_gauge(pair));
    let over_each = may_be.filter_map(|(first, _)| moves_over(&all, first));
    if let Some(moves) = over_each.max_by(|a, b| mean(a).abs().total_cmp(&mean(b).abs())) {
        return Some((Tank::Unknown, moves));
    }
    let (earlier, later) = *pairs.last()?;
    most_added(earlier, later).filter(|most| *most < SWING)?;
    Some((Tank::NotRefuelled, moves_over(&all, pairs.len())?))
}

fn mean(moves: &[Move]) -> f64 {
    moves.iter().map(|m| m.by_log).sum::<f64>() / moves.len() as f64
}

/// Movements from all captures before number `first` to it and all later ones; `None` where nothing was recorded on
/// both sides.
fn moves_over(all: &[&Summary], first: usize) -> Option<Vec<Move>> {
    let (before, after) = all.split_at_checked(first)?;
    let mut moves = Vec::new();
    for bank in Bank::ALL {
        for region in Region::ALL {
            let [before, after] = [before, after].map(|side| TripsMean::of(side, bank, region));
            let (Some(before), Some(after)) = (before, after) else {
                continue;
            };
            moves.push(Move {
                key: TrimKey { bank, region },
                by_log: after.log - before.log,
                error: before.error.hypot(after.error),
                trips: before.trips.recip() + after.trips.recip(),
                after_share: after.trips / (before.trips + after.trips),
            });
        }
    }
    (!moves.is_empty()).then_some(moves)
}

/// Movements within the only capture.
fn within(summaries: &[Summary]) -> Option<(Tank, Vec<Move>)> {
    let [only] = summaries else { return None };
    let refuelling = only.refuelling.as_ref()?;
    let moves = refuelling.moved.iter().filter_map(|moved| {
        Some(Move {
            key: TrimKey {
                bank: Bank::numbered(moved.bank)?,
                region: moved.region,
            },
            by_log: moved.by_log,
            error: moved.std_error_log,
            trips: 0.0,
            after_share: moved.after_share,
        })
    });
    let moves: Vec<Move> = moves.collect();
    (!moves.is_empty()).then_some((
        Tank::Refuelled(refuelling.from_pct, refuelling.to_pct),
        moves,
    ))
}

/// Mean of one fuel trim over several trips, each of which is one draw.
struct TripsMean {
    log: f64,
    error: f64,
    trips: f64,
}

impl TripsMean {
    fn of(side: &[&Summary], bank: Bank, region: Region) -> Option<Self> {
        let trims = side.iter().flat_map(|summary| &summary.trims);
        let here = trims.filter(|t| t.bank == bank.number() && t.region == region);
        let (mut sum, mut variance, mut trips) = (0.0, 0.0, 0.0);
        for trim in here {
            sum += trim.mean_log;
            variance += trim.std_error_log.powi(2);
            trips += 1.0;
        }
        (trips > 0.0).then(|| Self {
            log: sum / trips,
            error: variance.sqrt() / trips,
            trips,
        })
    }
}

/// Covariance of the movements of a healthy car.
fn covariance(moves: &[Move]) -> DMatrix<f64> {
    let square = |x: f64| x * x;
    let n = moves.len();
    DMatrix::from_fn(n, n, |i, j| {
        let (Some(a), Some(b)) = (moves.get(i), moves.get(j)) else {
            return 0.0;
        };
        let trips = (a.trips * b.trips).sqrt();
        let level = square(variation::TRIP) + square(variation::PERIOD);
        let mut sum = square(variation::REFUELLING) + trips * level;
        let (same_bank, same_region) = (a.key.bank == b.key.bank, a.key.region == b.key.region);
        if same_region {
            sum += trips * square(variation::REGION);
            let share = if same_bank { 1.0 } else { SHARED_BY_BANKS };
            sum += share * a.error.max(LEAST_ERROR) * b.error.max(LEAST_ERROR);
        }
        if same_bank {
            sum += trips * square(variation::ONE_BANK_TRIP);
        }
        SCALE * sum
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        diagnose::forward::TrimEffect,
        series::summary::{Facts, TrimSummary},
    };

    /// A capture with one region, at an hour of the day; 20 minutes of running between captures.
    fn capture(hour: i64, pct: f64, level_pct: f64) -> Summary {
        Summary {
            trims: vec![TrimSummary {
                bank: 1,
                region: Region::LightCruise,
                mean_log: (pct / 100.0).ln_1p(),
                std_error_log: 0.005,
                seconds: 300.0,
                readings: 300,
                degrees_of_freedom: 10.0,
                effective_readings: 20.0,
                saturated: 0.0,
                without_misfire: None,
            }],
            facts: Facts {
                started: jiff::Timestamp::from_second(3600 * hour).ok(),
                fuel_level_pct: Some((level_pct, level_pct)),
                minutes_since_clear: Some(1000.0 + 10.0 * hour as f64),
                ..Facts::default()
            },
            ..Summary::default()
        }
    }

    /// By hand: ln 1.09 = 0.08618. Its variance is 0.014² for a filling, 2 (0.014² + 0.009²) for two trips' levels,
    /// 2 · 0.0078² for their regions, 0.004² for their banks and 2 · 0.005² measured, 0.6 of all that: 0.000563. So it lies
    /// 0.007427 / 0.000563 = 13.2 away, which costs 3 ln(1 + 13.2 / 5) = 3.876.
    #[test]
    fn a_rise_that_the_new_fuel_explains_gains_what_it_would_cost_otherwise() {
        let refuel = RefuelEvidence::new(&[capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)]).unwrap();
        assert_eq!(refuel.tank, Tank::Refuelled(20.0, 95.0));
        let new = Prediction {
            ethanol_change: 0.25,
            came_with_refuelling: Some(1.09_f64.ln()),
            ..Prediction::default()
        };
        let gain = refuel.under(&new) - refuel.under(&Prediction::default());
        assert!((gain - 3.876).abs() < 0.01, "{gain}");
        let shares = refuel.new_fuel().unwrap();
        assert_eq!(shares[Region::LightCruise], 0.5);
    }

    #[test]
    fn without_a_refuelling_any_other_cause_may_have_begun() {
        let refuel = RefuelEvidence::new(&[capture(1, 0.0, 20.0), capture(2, 9.0, 19.0)]).unwrap();
        assert_eq!((refuel.tank, refuel.new_fuel()), (Tank::NotRefuelled, None));
        let leaned = Prediction {
            mixture: TrimEffect::from_fn(|_| ByRegion::from_fn(|_| 1.09_f64.ln())),
            ..Prediction::default()
        };
        let blend = Prediction {
            ethanol_change: 0.25,
            ..leaned
        };
        assert!(refuel.under(&leaned) > refuel.under(&blend) + 0.5);
    }

    #[test]
    fn an_unknown_order_or_amount_or_a_single_capture_says_nothing() {
        let mut unordered = [capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)];
        unordered[1].facts.started = None;
        assert!(RefuelEvidence::new(&unordered).is_none());
        // neither refuelled nor surely not: as much may have been added as was burnt
        let mut uncounted = [capture(1, 0.0, 20.0), capture(2, 9.0, 19.0)];
        uncounted[1].facts.minutes_since_clear = None;
        assert!(RefuelEvidence::new(&uncounted).is_none());
        assert!(RefuelEvidence::new(&[capture(1, 0.0, 20.0)]).is_none());
    }

    /// By hand: as above, a move that the new fuel explains gains 3.876; with 0.3 for having been filled in that is
    /// ln(0.3 · e^3.876 + 0.7) = 2.719.
    #[test]
    fn an_unknown_tank_may_have_been_filled_where_the_trims_moved_most() {
        let mut no_gauge = [capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)];
        no_gauge[0].facts.fuel_level_pct = None;
        let new = Prediction {
            ethanol_change: 0.25,
            came_with_refuelling: Some(1.09_f64.ln()),
            ..Prediction::default()
        };
        let refuel = RefuelEvidence::new(&no_gauge).unwrap();
        assert_eq!(refuel.tank, Tank::Unknown);
        let gain = refuel.under(&new) - refuel.under(&Prediction::default());
        assert!((gain - 2.719).abs() < 0.01, "{gain}");
        let three = [
            capture(1, 0.0, 20.0),
            capture(2, 9.0, 19.0),
            capture(3, 9.0, 18.0),
        ];
        let three = three.map(|mut capture| {
            capture.facts.fuel_level_pct = None;
            capture
        });
        let (by, _) = RefuelEvidence::new(&three).unwrap().movement();
        assert!((by - 1.09_f64.ln()).abs() < 1e-9);
    }
}
