//! Bench readings against a prediction. What was not measured is no evidence.
//!
//! The tails are heavy (Student's t with six degrees of freedom; common practice).

mod rail;
mod relative;
mod valve_seat;

use std::{f64::consts::SQRT_2, rc::Rc};

use crate::{
    bench::{self, Electrical, Findings, Hold},
    statistics::density::{log_mixture, log_student_t},
    vehicle::Vehicle,
};

use super::{
    super::forward::OnTheBench, BenchFact, Case, Conditions, Evidence, Fact, Piece, Reach, Sources,
};
use rail::Pressures;
use relative::{Measured, Share, fit};

/// Probability, 0 to 1, that readings taken by hand at the part arose in a way that no prediction covers: people
/// misread a gauge some three times in a thousand and mix up like things as often (NUREG/CR-1278, from memory); a set
/// has four to eight readings, and half of the slips are noticed (assumed).
const OUTLIER_RATE: f64 = 0.015;
/// Degrees of freedom of Student's t for bench readings (common practice; heavy tails, so that one odd reading decides
/// little).
const DEGREES_OF_FREEDOM: f64 = 6.0;
/// Standard deviation of the flows of clean injectors, as a share: the trade wants 3 % on the flow bench, a certified
/// petrol keeps them within 5 % (ASTM D5598).
const CLEAN_SPREAD: f64 = 0.03;
/// Standard deviation of a repeated pressure drop, as a share: together with the differences between clean injectors,
/// the factory's 10 kPa of 67 are three times this.
const DROP_REPEATS: f64 = 0.04;
/// Standard deviation of a repeated volume on a flow bench, as a share (assumed: half of the 3 % within which the trade
/// wants a set). The odds of a restricted injector depend on it only a little, as clean injectors differ by twice as
/// much.
const VOLUME_REPEATS: f64 = 0.015;
/// Standard deviation of what a blocked or dead injector still delivers, as a share of a clean one's flow (assumed).
const TRACE: f64 = 0.01;
/// Standard deviation, as a share of the loss, for sizes that lie between the ones tried, which are about a fifth
/// apart.
const BETWEEN_SIZES: f64 = 0.06;
/// Standard deviation of sound cylinders in a power balance, as a share of the mean drop in rpm (assumed).
const POWER_SPREAD: f64 = 0.15;
/// Standard deviation of the speed of a warm idle, read over a few seconds, rpm (common practice).
const IDLE_WANDERS_RPM: f64 = 7.0;

/// Electrical readings of one injector.
#[derive(Debug, Clone, Copy)]
struct Coil {
    cylinder: u8,
    coil: Option<Electrical>,
    click: Option<bool>,
    pulse: Option<bool>,
    drops_per_minute: Option<f64>,
}

/// All bench readings, ready to be scored against predictions.
#[derive(Debug, Clone)]
pub struct Bench {
    coils: Vec<Coil>,
    flows: Vec<Measured>,
    flow_repeats: f64,
    /// Reading of a clean injector from a data sheet, with its relative error; `None` without a data sheet.
    good_flow: Option<(f64, f64)>,
    powers: Vec<Measured>,
    /// Log-likelihoods of flow and power with injectors and cylinders all alike, as under most causes.
    alike: [f64; 2],
    pressures: Pressures,
    hold: Hold,
}

impl Bench {
    /// Combines a form with the findings from it.
    pub fn new(readings: &bench::Readings, found: &Findings, vehicle: &Vehicle) -> Self {
        let steps = readings.steps;
        let set = |of: fn(&bench::InjectorReadings) -> Option<f64>, error: f64| -> Vec<Measured> {
            let all = readings.injectors.iter().filter_map(|one| {
                Some(Measured {
                    cylinder: one.cylinder,
                    value: of(one)?,
                    error,
                })
            });
            all.collect()
        };
        // a reading is spread evenly over its step: one step over the root of 12; a difference has two
        let single = 12_f64.sqrt().recip();
        let volumes = set(|one| one.volume_ml, single * steps.glass_ml);
        let drops = set(|one| one.drop_kpa, SQRT_2 * single * steps.gauge_kpa);
        // volumes depend on less, but a set that leaves an injector out may leave out the one at fault
        let by_volume = volumes.len() > 1 && volumes.len() >= drops.len();
        let coils = readings.injectors.iter().zip(&found.injectors);
        let mut bench = Self {
            coils: coils
                .map(|(read, found)| Coil {
                    cylinder: read.cylinder,
                    coil: read.ohms.map(|_| found.electrical),
                    click: read.click,
                    pulse: read.pulse,
                    // as found: a valve seat cleaned since is a different one
                    drops_per_minute: match read.drops_per_minute_after {
                        None => read.drops_per_minute,
                        Some(_) => None,
                    },
                })
                .collect(),
            flow_repeats: if by_volume {
                VOLUME_REPEATS
            } else {
                DROP_REPEATS
            },
            good_flow: readings
                .good_volume_ml
                .filter(|_| by_volume)
                .map(|ml| (ml, bench::DATA_SHEET_ERROR)),
            flows: if by_volume { volumes } else { drops },
            powers: set(
                |one| one.rpm_drop,
                SQRT_2 * (single * steps.rpm).hypot(IDLE_WANDERS_RPM),
            ),
            pressures: Pressures {
                idle: readings.rail.pressure_kpa,
                loaded: readings.rail.loaded_kpa,
                right: vehicle.rail_kpa,
                step_error: single * steps.gauge_kpa,
            },
            hold: found.rail.map_or(Hold::Unknown, |rail| rail.hold),
            alike: [0.0; 2],
        };
        bench.alike = [bench.flows_with(|_| 1.0, 0.0), bench.powers_with(|_| 1.0)];
        bench
    }

    /// Whether the form holds any reading.
    pub fn tells_something(&self) -> bool {
        let rail = self.pressures.idle.or(self.pressures.loaded);
        self.cylinders().next().is_some() || rail.is_some() || self.hold != Hold::Unknown
    }

    /// Cylinders that readings tell apart.
    pub fn cylinders(&self) -> impl Iterator<Item = u8> {
        let was_read = |coil: &&Coil| {
            coil.coil.is_some()
                || coil.click.is_some()
                || coil.pulse.is_some()
                || coil.drops_per_minute.is_some()
        };
        let electrical = self.coils.iter().filter(was_read).map(|coil| coil.cylinder);
        let sets = self.flows.iter().chain(&self.powers);
        electrical.chain(sets.map(|one| one.cylinder))
    }

    fn electrical(&self, expected: &OnTheBench, relation: impl Fn(u8) -> Relation) -> f64 {
        let one = |coil: &Coil| {
            let chances = one_of(expected, relation(coil.cylinder));
            let resistance = coil.coil.map_or(0.0, |found| {
                let [dead, out] = chances.coil;
                match found {
                    found if found.is_dead() => dead.ln(),
                    Electrical::OutOfRange => out.ln(),
                    Electrical::Ok => (1.0 - dead - out).ln(),
                    // an injector that works now is not dead
                    _ => (1.0 - dead).ln(),
                }
            });
            let yes_no = |yes: Option<bool>, no: f64| match yes {
                Some(true) => (1.0 - no).ln(),
                Some(false) => no.ln(),
                None => 0.0,
            };
            resistance + yes_no(coil.click, chances.silent) + yes_no(coil.pulse, chances.no_pulse)
        };
        self.coils.iter().map(one).sum()
    }

    fn flow(&self, expected: &OnTheBench, relation: impl Fn(u8) -> Relation) -> f64 {
        let [alike, _] = self.alike;
        let with = |meant: f64| match [meant, expected.flow_others, expected.flow_spread] {
            [1.0, 1.0, 0.0] => alike,
            _ => self.flows_with(
                |cylinder| match relation(cylinder) {
                    Relation::Meant => meant,
                    Relation::Beside => expected.flow_others,
                    Relation::Elsewhere => 1.0,
                },
                expected.flow_spread,
            ),
        };
        match expected.gives_nothing {
            0.0 => with(expected.flow),
            nothing => log_mixture([(nothing, with(0.0)), (1.0 - nothing, with(expected.flow))]),
        }
    }

    /// Log-likelihood of the flows where each injector delivers the share `share` of a clean one's flow; `uneven` is
    /// the standard deviation beyond that of clean injectors.
    fn flows_with(&self, share: impl Fn(u8) -> f64, uneven: f64) -> f64 {
        let relative = CLEAN_SPREAD.hypot(self.flow_repeats);
        let uneven = uneven.hypot(TRACE);
        let share = |cylinder: u8| {
            let of_sound = share(cylinder);
            let between = BETWEEN_SIZES * (1.0 - of_sound);
            Share {
                of_sound,
                spread: (relative * of_sound).hypot(between).hypot(uneven),
            }
        };
        fit(&self.flows, share, self.good_flow)
    }

    fn power(&self, expected: &OnTheBench, relation: impl Fn(u8) -> Relation) -> f64 {
        let [_, alike] = self.alike;
        match [expected.power, expected.power_others] {
            [1.0, 1.0] => alike,
            _ => self.powers_with(|cylinder| match relation(cylinder) {
                Relation::Meant => expected.power,
                Relation::Beside => expected.power_others,
                Relation::Elsewhere => 1.0,
            }),
        }
    }

    /// Log-likelihood of the drops in rpm where each cylinder does the share `share` of a sound one's work.
    fn powers_with(&self, share: impl Fn(u8) -> f64) -> f64 {
        let share = |cylinder: u8| Share {
            of_sound: share(cylinder),
            spread: POWER_SPREAD,
        };
        fit(&self.powers, share, None)
    }

    fn leakage(&self, expected: &OnTheBench, relation_of: impl Fn(u8) -> Relation) -> f64 {
        let one = |coil: &Coil| {
            let let_through = one_of(expected, relation_of(coil.cylinder)).drops_per_minute;
            let drops = coil.drops_per_minute;
            drops.map_or(0.0, |drops| valve_seat::log_likelihood(drops, let_through))
        };
        let [holds, sinks, leaks] = expected.hold;
        let rail = match self.hold {
            Hold::Holds => holds.ln(),
            Hold::Sinks => sinks.ln(),
            Hold::Leaks => leaks.ln(),
            Hold::Unknown => 0.0,
        };
        rail + self.coils.iter().map(one).sum::<f64>()
    }
}

/// Log-likelihood of one kind of readings under an explanation.
type Fit = fn(&Bench, &Case<'_>) -> f64;

/// One kind of readings on the form.
#[derive(Debug)]
struct Kind {
    bench: Rc<Bench>,
    fit: Fit,
}

impl Evidence for Kind {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        (self.fit)(&self.bench, case)
    }

    fn reach(&self) -> Reach {
        Reach::Cylinder
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.tells_cylinders |= self.bench.cylinders().next().is_some();
    }
}

fn piece(
    sources: &Sources<'_>,
    kind: BenchFact,
    was_read: impl Fn(&Bench) -> bool,
    fit: Fit,
) -> Option<Piece> {
    let bench = sources.bench.as_ref().filter(|bench| was_read(bench))?;
    let bench = Rc::clone(bench);
    let fact = sources
        .found
        .map(|found| Fact::Bench(kind, Box::new(found.clone())));
    let piece = Piece::new(Kind { bench, fit }, fact);
    Some(piece.with_outlier_rate(OUTLIER_RATE))
}

/// Evidence from winding resistance, click and drive pulse; `None` where none was read.
pub fn windings(sources: &Sources<'_>) -> Option<Piece> {
    let was_read = |coil: &Coil| coil.coil.is_some() || coil.click.or(coil.pulse).is_some();
    piece(
        sources,
        BenchFact::Windings,
        |bench| bench.coils.iter().any(was_read),
        |bench, case| bench.electrical(&case.prediction.bench, |cylinder| relation(case, cylinder)),
    )
}

/// Evidence from injector flow, or from pressure drops in its place; `None` where neither was read.
pub fn flow(sources: &Sources<'_>) -> Option<Piece> {
    piece(
        sources,
        BenchFact::Flow,
        |bench| !bench.flows.is_empty(),
        |bench, case| bench.flow(&case.prediction.bench, |cylinder| relation(case, cylinder)),
    )
}

/// Evidence from leakage and leak-down; `None` where neither was read.
pub fn leakage(sources: &Sources<'_>) -> Option<Piece> {
    let was_read = |coil: &Coil| coil.drops_per_minute.is_some();
    piece(
        sources,
        BenchFact::Leakage,
        |bench| bench.hold != Hold::Unknown || bench.coils.iter().any(was_read),
        |bench, case| bench.leakage(&case.prediction.bench, |cylinder| relation(case, cylinder)),
    )
}

/// Evidence from the rail pressure; `None` where none was read.
pub fn pressure(sources: &Sources<'_>) -> Option<Piece> {
    piece(
        sources,
        BenchFact::Pressure,
        |bench| bench.pressures.idle.or(bench.pressures.loaded).is_some(),
        |bench, case| {
            bench
                .pressures
                .log_likelihood(case.prediction.bench.pressure)
        },
    )
}

/// Evidence from the power balance; `None` where none was read.
pub fn power(sources: &Sources<'_>) -> Option<Piece> {
    piece(
        sources,
        BenchFact::Power,
        |bench| !bench.powers.is_empty(),
        |bench, case| bench.power(&case.prediction.bench, |cylinder| relation(case, cylinder)),
    )
}

/// Relation of an injector to the place of the first cause.
fn relation(case: &Case<'_>, cylinder: u8) -> Relation {
    let location = case.location();
    let elsewhere = location.bank.zip(case.banks.of(cylinder));
    match (location.cylinder, elsewhere) {
        (Some(meant), _) if meant == cylinder => Relation::Meant,
        (_, Some((meant, bank))) if meant != bank => Relation::Elsewhere,
        _ => Relation::Beside,
    }
}

/// Relation of an injector to the place of a cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Relation {
    Meant,
    Beside,
    Elsewhere,
}

/// Predicted readings of one injector: the cause's, or those of a sound one.
fn one_of(expected: &OnTheBench, relation: Relation) -> OnTheBench {
    match relation {
        Relation::Meant => *expected,
        Relation::Beside | Relation::Elsewhere => OnTheBench::elsewhere(),
    }
}

/// Logarithm of Student's t density, up to a constant.
fn t(standardised: f64) -> f64 {
    log_student_t(square(standardised), 1.0, DEGREES_OF_FREEDOM)
}

/// Weight of a reading in a fit by Student's t, `squared` standard deviations squared away from it.
fn t_weight(squared: f64) -> f64 {
    (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + squared)
}

fn square(x: f64) -> f64 {
    x * x
}
