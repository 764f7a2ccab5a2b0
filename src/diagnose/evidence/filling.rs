//! Did the corrections move when fuel was filled in?
//!
//! Another fuel comes with a filling and moves every region of every bank alike. Any other cause may have begun between two
//! captures too, but that is rare, and it moves what it moves. Where the gauge proves that nothing was filled in, no new
//! fuel came. Where there is no gauge, fuel may have been filled in where the corrections moved most. Where the gauge may hide
//! that as much was filled in as was burnt, or the order of the captures is not known, nothing is said.

use nalgebra::{DMatrix, DVector};

use crate::{
    bank::Bank,
    series::{
        label::region::{ByRegion, Region},
        summary::Summary,
        tank::{SWING, in_order, most_filled, risen, was_filled},
        variation,
    },
    statistics::density::{log_mixture, log_student_t},
};

use super::{
    super::forward::Prediction,
    Case, Conditions, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
    steps::Place,
    trims::{LEAST_ERROR, SCALE, SHARED_BY_BANKS, at},
};

/// How often a cause other than the fuel began just between the captures of one car (assumed: they are mostly of one visit).
const BEGAN_BETWEEN: f64 = 0.05;
/// How often fuel was filled in between two captures of whose tank nothing is known (assumed: most are of one visit, and a
/// tank lasts for a week or two).
const FILLED_UNSEEN: f64 = 0.3;

/// What the tank did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tank {
    /// Fuel was filled in: level before and after, percent, as the gauge told it.
    Filled(f64, f64),
    /// Nothing was filled in.
    NotFilled,
    /// There is no gauge.
    Unknown,
}

/// How far one correction moved.
#[derive(Debug, Clone, Copy)]
struct Move {
    place: Place,
    by_log: f64,
    /// Standard error of that inside the trips.
    error: f64,
    /// What single trips add to it: the sum of one over the number of trips on each side; 0 within a trip.
    trips: f64,
    /// Share of what was recorded there that lies after.
    after_share: f64,
}

/// The movement, where fuel trims were seen before and after.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let filling = Filling::new(sources.summaries)?;
    let (moved_log, apart_log) = filling.movement();
    let fact = Fact::Refuelling {
        moved_log,
        apart_log,
        tank: filling.tank,
    };
    Some(Piece::new(filling, Some(fact)))
}

impl Evidence for Filling {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.new_fuel = self.new_fuel();
    }
}

/// How far the corrections moved, and what the tank did.
#[derive(Debug, Clone)]
pub struct Filling {
    tank: Tank,
    moves: Vec<Move>,
    precision: DMatrix<f64>,
    unmoved: f64,
}

impl Filling {
    /// Takes the captures together; `None` where there is one without a filling, where their order is not known, or where
    /// nothing was seen on both sides.
    pub fn new(summaries: &[Summary]) -> Option<Self> {
        let (tank, moves) = between(summaries).or_else(|| within(summaries))?;
        let precision = covariance(&moves).cholesky()?.inverse();
        let mut filling = Self {
            tank,
            moves,
            precision,
            unmoved: 0.0,
        };
        filling.unmoved = filling.fit(|_| 0.0);
        Some(filling)
    }

    /// Share of each region's recording that lies after the filling, certain or not; `None` when nothing was filled in.
    pub fn new_fuel(&self) -> Option<ByRegion<f64>> {
        (self.tank != Tank::NotFilled).then(|| {
            let all = |shares: f64, m: &Move| shares + m.after_share;
            let mean = self.moves.iter().fold(0.0, all) / self.moves.len() as f64;
            ByRegion::from_fn(|region| {
                let mut here = self.moves.iter().filter(|m| m.place.region == region);
                here.next().map_or(mean, |m| m.after_share)
            })
        })
    }

    /// Mean movement and how far single ones lie apart, as logarithms.
    pub fn movement(&self) -> (f64, f64) {
        let all = self.moves.iter().map(|m| m.by_log);
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(low, high), y| {
            (low.min(y), high.max(y))
        });
        (mean(&self.moves), high - low)
    }

    /// Logarithm of the likelihood, up to what is the same for all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        if let Some(needed) = prediction.came_with_filling {
            let came = self.fit(|_| needed);
            return match self.tank {
                Tank::Unknown => {
                    log_mixture([(FILLED_UNSEEN, came), (1.0 - FILLED_UNSEEN, self.unmoved)])
                }
                Tank::Filled(..) | Tank::NotFilled => came,
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
        let moved = self.fit(|place| at(&effect, place));
        // ln((1 − b) e^unmoved + b e^moved)
        let gain = BEGAN_BETWEEN * (moved - self.unmoved).min(500.0).exp_m1();
        self.unmoved + gain.ln_1p()
    }

    fn fit(&self, predicted: impl Fn(Place) -> f64) -> f64 {
        let left = self.moves.iter().map(|m| m.by_log - predicted(m.place));
        let left = DVector::from_iterator(self.moves.len(), left);
        let distance = left.dot(&(&self.precision * &left));
        log_student_t(distance, self.moves.len() as f64, DEGREES_OF_FREEDOM)
    }
}

/// From the captures before the latest filling to those after it; with none, from those before the last to the last if
/// nothing was surely filled in; without a gauge, over where they moved most.
fn between(summaries: &[Summary]) -> Option<(Tank, Vec<Move>)> {
    // of fuel that came inside one of several captures it is not clear which corrections have it
    let unclear = |s: &Summary| s.facts.started.is_none() || s.filling.is_some();
    if summaries.iter().any(unclear) {
        return None;
    }
    let all = in_order(summaries);
    let pairs: Vec<(&Summary, &Summary)> = all
        .iter()
        .copied()
        .zip(all.iter().copied().skip(1))
        .collect();
    let filled = pairs.iter().rposition(|(a, b)| was_filled(a, b));
    if let Some(index) = filled {
        let (earlier, later) = *pairs.get(index)?;
        let (_, from) = earlier.facts.fuel_level_pct?;
        let (to, _) = later.facts.fuel_level_pct?;
        return Some((Tank::Filled(from, to), moves_over(&all, index + 1)?));
    }
    let no_gauge = |(a, b): &(&Summary, &Summary)| risen(&a.facts, &b.facts).is_none();
    let may_be = (1..).zip(&pairs).filter(|(_, pair)| no_gauge(pair));
    let over_each = may_be.filter_map(|(first, _)| moves_over(&all, first));
    if let Some(moves) = over_each.max_by(|a, b| mean(a).abs().total_cmp(&mean(b).abs())) {
        return Some((Tank::Unknown, moves));
    }
    let (earlier, later) = *pairs.last()?;
    most_filled(earlier, later).filter(|most| *most < SWING)?;
    Some((Tank::NotFilled, moves_over(&all, pairs.len())?))
}

fn mean(moves: &[Move]) -> f64 {
    moves.iter().map(|m| m.by_log).sum::<f64>() / moves.len() as f64
}

/// From all captures before the `first` one to it and all after it; `None` where nothing was seen on both sides.
fn moves_over(all: &[&Summary], first: usize) -> Option<Vec<Move>> {
    let (before, after) = all.split_at_checked(first)?;
    let mut moves = Vec::new();
    for bank in Bank::ALL {
        for region in Region::ALL {
            let [before, after] = [before, after].map(|side| Mean::of(side, bank, region));
            let (Some(before), Some(after)) = (before, after) else {
                continue;
            };
            moves.push(Move {
                place: Place { bank, region },
                by_log: after.log - before.log,
                error: before.error.hypot(after.error),
                trips: before.trips.recip() + after.trips.recip(),
                after_share: after.trips / (before.trips + after.trips),
            });
        }
    }
    (!moves.is_empty()).then_some(moves)
}

/// Within the only capture.
fn within(summaries: &[Summary]) -> Option<(Tank, Vec<Move>)> {
    let [only] = summaries else { return None };
    let filling = only.filling.as_ref()?;
    let moves = filling.moved.iter().filter_map(|moved| {
        Some(Move {
            place: Place {
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
    (!moves.is_empty()).then_some((Tank::Filled(filling.from_pct, filling.to_pct), moves))
}

/// One correction over several trips, each of which is one draw.
struct Mean {
    log: f64,
    error: f64,
    trips: f64,
}

impl Mean {
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

/// What a healthy car moves by itself.
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
        let (same_bank, same_region) = (
            a.place.bank == b.place.bank,
            a.place.region == b.place.region,
        );
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

    /// One region on one trip of each side: 20 minutes of running between them.
    fn capture(hour: i64, pct: f64, level_pct: f64) -> Summary {
        Summary {
            trims: vec![TrimSummary {
                bank: 1,
                region: Region::LightCruise,
                mean_log: (pct / 100.0).ln_1p(),
                std_error_log: 0.005,
                seconds: 300.0,
                readings: 300,
                freedom: 10.0,
                effective_readings: 20.0,
                at_stop: 0.0,
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
        let filling = Filling::new(&[capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)]).unwrap();
        assert_eq!(filling.tank, Tank::Filled(20.0, 95.0));
        let new = Prediction {
            ethanol_change: 0.25,
            came_with_filling: Some(1.09_f64.ln()),
            ..Prediction::default()
        };
        let gain = filling.under(&new) - filling.under(&Prediction::default());
        assert!((gain - 3.876).abs() < 0.01, "{gain}");
        let shares = filling.new_fuel().unwrap();
        assert_eq!(shares[Region::LightCruise], 0.5);
    }

    #[test]
    fn without_a_filling_any_other_cause_may_have_begun() {
        let filling = Filling::new(&[capture(1, 0.0, 20.0), capture(2, 9.0, 19.0)]).unwrap();
        assert_eq!((filling.tank, filling.new_fuel()), (Tank::NotFilled, None));
        let leaned = Prediction {
            mixture: TrimEffect::from_fn(|_| ByRegion::from_fn(|_| 1.09_f64.ln())),
            ..Prediction::default()
        };
        let blend = Prediction {
            ethanol_change: 0.25,
            ..leaned
        };
        assert!(filling.under(&leaned) > filling.under(&blend) + 0.5);
    }

    #[test]
    fn an_unknown_order_or_amount_or_a_single_capture_says_nothing() {
        let mut unordered = [capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)];
        unordered[1].facts.started = None;
        assert!(Filling::new(&unordered).is_none());
        // neither filled nor surely not: as much may have been filled in as was burnt
        let mut uncounted = [capture(1, 0.0, 20.0), capture(2, 9.0, 19.0)];
        uncounted[1].facts.minutes_since_clear = None;
        assert!(Filling::new(&uncounted).is_none());
        assert!(Filling::new(&[capture(1, 0.0, 20.0)]).is_none());
    }

    /// By hand: as above, a move that the new fuel explains gains 3.876; with 0.3 for having been filled in that is
    /// ln(0.3 · e^3.876 + 0.7) = 2.719.
    #[test]
    fn an_unknown_tank_may_have_been_filled_where_the_corrections_moved_most() {
        let mut no_gauge = [capture(1, 0.0, 20.0), capture(2, 9.0, 95.0)];
        no_gauge[0].facts.fuel_level_pct = None;
        let new = Prediction {
            ethanol_change: 0.25,
            came_with_filling: Some(1.09_f64.ln()),
            ..Prediction::default()
        };
        let filling = Filling::new(&no_gauge).unwrap();
        assert_eq!(filling.tank, Tank::Unknown);
        let gain = filling.under(&new) - filling.under(&Prediction::default());
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
        let (by, _) = Filling::new(&three).unwrap().movement();
        assert!((by - 1.09_f64.ln()).abs() < 1e-9);
    }
}
