//! Bench readings against a prediction. What was not measured says nothing.
//!
//! Tails are heavy (t with six degrees of freedom; common practice).

mod rail;
mod relative;
mod seat;

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

/// Share of cases in which what was measured by hand at the part itself has come about in a way that nothing here
/// describes: people misread a gauge some three times in a thousand and mix up like things as often (NUREG/CR-1278, from
/// memory); a set has four to eight readings, and half of the slips are noticed (assumed).
const OUTLIER_RATE: f64 = 0.015;
/// Degrees of freedom of the tails.
const DEGREES_OF_FREEDOM: f64 = 6.0;
/// What clean injectors differ by: the trade wants 3 % on the flow bench, a certified petrol keeps them within 5 %
/// (ASTM D5598).
const CLEAN_SPREAD: f64 = 0.03;
/// How well a pressure drop repeats: with what clean injectors differ by, the factory's 10 kPa of 67 are three times this.
const DROP_REPEATS: f64 = 0.04;
/// How well a flow bench repeats.
const VOLUME_REPEATS: f64 = 0.015;
/// A blocked or dead injector may still let a trace through.
const TRACE: f64 = 0.01;
/// Sizes are tried in steps of about a fifth: what lies between is off by this share of the loss, as a standard deviation.
const BETWEEN_SIZES: f64 = 0.06;
/// What sound cylinders differ by in a power balance.
const POWER_SPREAD: f64 = 0.15;
/// How far the speed of a warm idle, read over a few seconds, wanders by itself, rpm (common practice).
const IDLE_WANDERS_RPM: f64 = 7.0;

/// Electrical facts of one injector.
#[derive(Debug, Clone, Copy)]
struct Coil {
    cylinder: u8,
    coil: Option<Electrical>,
    click: Option<bool>,
    pulse: Option<bool>,
    drops_per_minute: Option<f64>,
}

/// All bench readings, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Bench {
    coils: Vec<Coil>,
    flows: Vec<Measured>,
    flow_repeats: f64,
    /// Reading of a clean injector, where a data sheet tells it, with its relative error.
    good_flow: Option<(f64, f64)>,
    powers: Vec<Measured>,
    /// Flow and power with injectors and cylinders all alike, as most causes leave them.
    alike: [f64; 2],
    pressures: Pressures,
    hold: Hold,
}

impl Bench {
    /// Takes a form with what was found of it.
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
        // volumes depend on less, but a set that leaves an injector out may leave out the one that is meant
        let by_volume = volumes.len() > 1 && volumes.len() >= drops.len();
        let coils = readings.injectors.iter().zip(&found.injectors);
        let mut bench = Self {
            coils: coils
                .map(|(read, found)| Coil {
                    cylinder: read.cylinder,
                    coil: read.ohms.map(|_| found.electrical),
                    click: read.click,
                    pulse: read.pulse,
                    // as found; a seat that was cleaned since is another one
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

    /// Whether anything was read at all.
    pub fn tells_something(&self) -> bool {
        let rail = self.pressures.idle.or(self.pressures.loaded);
        self.cylinders().next().is_some() || rail.is_some() || self.hold != Hold::Unknown
    }

    /// Cylinders that readings tell apart.
    pub fn cylinders(&self) -> impl Iterator<Item = u8> {
        let told = |coil: &&Coil| {
            coil.coil.is_some()
                || coil.click.is_some()
                || coil.pulse.is_some()
                || coil.drops_per_minute.is_some()
        };
        let electrical = self.coils.iter().filter(told).map(|coil| coil.cylinder);
        let sets = self.flows.iter().chain(&self.powers);
        electrical.chain(sets.map(|one| one.cylinder))
    }

    fn electrical(&self, expected: &OnTheBench, seat: impl Fn(u8) -> Seat) -> f64 {
        let one = |coil: &Coil| {
            let chances = one_of(expected, seat(coil.cylinder));
            let resistance = coil.coil.map_or(0.0, |found| {
                let [dead, out] = chances.coil;
                match found {
                    found if found.is_dead() => dead.ln(),
                    Electrical::OutOfRange => out.ln(),
                    Electrical::Ok => (1.0 - dead - out).ln(),
                    // not dead, no more
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

    fn flow(&self, expected: &OnTheBench, seat: impl Fn(u8) -> Seat) -> f64 {
        let [alike, _] = self.alike;
        let with = |meant: f64| match [meant, expected.flow_beside, expected.flow_spread] {
            [1.0, 1.0, 0.0] => alike,
            _ => self.flows_with(
                |cylinder| match seat(cylinder) {
                    Seat::Meant => meant,
                    Seat::Beside => expected.flow_beside,
                    Seat::Elsewhere => 1.0,
                },
                expected.flow_spread,
            ),
        };
        match expected.gives_nothing {
            0.0 => with(expected.flow),
            nothing => log_mixture([(nothing, with(0.0)), (1.0 - nothing, with(expected.flow))]),
        }
    }

    /// Flows where each injector gives such a share of a clean one, `uneven` beside what clean ones differ by.
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

    fn power(&self, expected: &OnTheBench, seat: impl Fn(u8) -> Seat) -> f64 {
        let [_, alike] = self.alike;
        match [expected.power, expected.power_beside] {
            [1.0, 1.0] => alike,
            _ => self.powers_with(|cylinder| match seat(cylinder) {
                Seat::Meant => expected.power,
                Seat::Beside => expected.power_beside,
                Seat::Elsewhere => 1.0,
            }),
        }
    }

    /// Falls of the speed where each cylinder does such a share of a sound one's work.
    fn powers_with(&self, share: impl Fn(u8) -> f64) -> f64 {
        let share = |cylinder: u8| Share {
            of_sound: share(cylinder),
            spread: POWER_SPREAD,
        };
        fit(&self.powers, share, None)
    }

    fn leakage(&self, expected: &OnTheBench, stands: impl Fn(u8) -> Seat) -> f64 {
        let one = |coil: &Coil| {
            let let_through = one_of(expected, stands(coil.cylinder)).drops_per_minute;
            let drops = coil.drops_per_minute;
            drops.map_or(0.0, |drops| seat::log_likelihood(drops, let_through))
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

/// How well a kind of readings fits an explanation.
type Fit = fn(&Bench, &Case<'_>) -> f64;

/// One kind of readings of the form.
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

/// Winding resistance, click and drive pulse.
pub fn windings(sources: &Sources<'_>) -> Option<Piece> {
    let told = |coil: &Coil| coil.coil.is_some() || coil.click.or(coil.pulse).is_some();
    piece(
        sources,
        BenchFact::Windings,
        |bench| bench.coils.iter().any(told),
        |bench, case| bench.electrical(&case.prediction.bench, |cylinder| seat(case, cylinder)),
    )
}

/// Flow, or pressure drops in its place.
pub fn flow(sources: &Sources<'_>) -> Option<Piece> {
    piece(
        sources,
        BenchFact::Flow,
        |bench| !bench.flows.is_empty(),
        |bench, case| bench.flow(&case.prediction.bench, |cylinder| seat(case, cylinder)),
    )
}

/// Leakage and leak-down.
pub fn leakage(sources: &Sources<'_>) -> Option<Piece> {
    let told = |coil: &Coil| coil.drops_per_minute.is_some();
    piece(
        sources,
        BenchFact::Leakage,
        |bench| bench.hold != Hold::Unknown || bench.coils.iter().any(told),
        |bench, case| bench.leakage(&case.prediction.bench, |cylinder| seat(case, cylinder)),
    )
}

/// Rail pressure.
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

/// Power balance.
pub fn power(sources: &Sources<'_>) -> Option<Piece> {
    piece(
        sources,
        BenchFact::Power,
        |bench| !bench.powers.is_empty(),
        |bench, case| bench.power(&case.prediction.bench, |cylinder| seat(case, cylinder)),
    )
}

/// How an injector stands to the place of the first cause.
fn seat(case: &Case<'_>, cylinder: u8) -> Seat {
    let place = case.place();
    let elsewhere = place.bank.zip(case.banks.of(cylinder));
    match (place.cylinder, elsewhere) {
        (Some(meant), _) if meant == cylinder => Seat::Meant,
        (_, Some((meant, bank))) if meant != bank => Seat::Elsewhere,
        _ => Seat::Beside,
    }
}

/// How an injector stands to the place of a cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Seat {
    Meant,
    Beside,
    Elsewhere,
}

/// Chances of one injector: the cause's own, or a sound one's.
fn one_of(expected: &OnTheBench, seat: Seat) -> OnTheBench {
    match seat {
        Seat::Meant => *expected,
        Seat::Beside | Seat::Elsewhere => OnTheBench::elsewhere(),
    }
}

/// Logarithm of Student's t density, up to a constant.
fn t(standardised: f64) -> f64 {
    log_student_t(square(standardised), 1.0, DEGREES_OF_FREEDOM)
}

/// What a reading so many squared standard deviations away counts against one that fits, by that density.
fn t_weight(squared: f64) -> f64 {
    (DEGREES_OF_FREEDOM + 1.0) / (DEGREES_OF_FREEDOM + squared)
}

fn square(x: f64) -> f64 {
    x * x
}
