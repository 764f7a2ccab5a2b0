//! Bench readings against a prediction. What was not measured says nothing.
//!
//! Flows and work at idle are known only against each other: the common factor is fitted anew to every prediction. Their
//! tails are heavy (t with six degrees of freedom; common practice), because hands, gauges and pumps do more than any
//! table knows.

use std::f64::consts::SQRT_2;

use crate::{
    bench::{self, Electrical, Findings, Hold, Leakage},
    vehicle::Vehicle,
};

use super::super::forward::{OnTheBench, Place};

/// Pieces of evidence: coils with click and pulse, flow, leakage, rail pressure, power balance.
pub const PIECES: usize = 5;

/// Degrees of freedom of the tails.
const FREEDOM: f64 = 6.0;
/// What clean injectors differ by: the trade wants 3 % on the flow bench, a certified petrol keeps them within 5 %
/// (ASTM D5598).
const CLEAN_SPREAD: f64 = 0.03;
/// How well a pressure drop repeats: with what clean injectors differ by, the factory's 10 kPa of 67 are three times this.
const DROP_REPEATS: f64 = 0.04;
/// How well a flow bench repeats.
const VOLUME_REPEATS: f64 = 0.015;
/// How well a flow bench agrees with a data sheet.
const DATA_SHEET: f64 = 0.04;
/// What sound cylinders differ by in a power balance.
const POWER_SPREAD: f64 = 0.15;
/// How far a sound rail may lie from the middle of its range beside the range's own width.
const PRESSURE_SPREAD: f64 = 0.02;
/// Rail pressure under load against idle on a sound car: a fixed regulator, or one that follows the manifold (factory
/// pages: 265 to 270 kPa with vacuum, 324 to 350 without).
const LOADED_RISE: [(f64, f64); 2] = [(0.65, 1.0), (0.35, 1.22)];
/// Turns of fitting the common factor.
const TURNS: usize = 6;

/// One reading of a set with the standard deviation of its instrument.
#[derive(Debug, Clone, Copy)]
struct Measured {
    cylinder: u8,
    value: f64,
    error: f64,
}

/// Electrical facts of one injector.
#[derive(Debug, Clone, Copy)]
struct Coil {
    cylinder: u8,
    coil: Option<Electrical>,
    click: Option<bool>,
    pulse: Option<bool>,
    seat: Leakage,
}

/// All bench readings, ready to be held against predictions.
#[derive(Debug, Clone)]
pub struct Bench {
    coils: Vec<Coil>,
    flows: Vec<Measured>,
    flow_repeats: f64,
    /// Reading of a clean injector, where a data sheet tells it.
    good_flow: Option<f64>,
    powers: Vec<Measured>,
    /// Rail pressure at idle and under load, kPa.
    pressure: [Option<f64>; 2],
    /// Middle and half width of the right pressure, kPa.
    right_pressure: Option<(f64, f64)>,
    gauge_error: f64,
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
        let by_volume = volumes.len() > 1;
        let coils = readings.injectors.iter().zip(&found.injectors);
        Self {
            coils: coils
                .map(|(read, found)| Coil {
                    cylinder: read.cylinder,
                    coil: read.ohms.map(|_| found.electrical),
                    click: read.click,
                    pulse: read.pulse,
                    // drops as found; a seat that was cleaned since is another one
                    seat: match read.drops_per_minute_after {
                        None => found.leakage,
                        Some(_) => Leakage::Unknown,
                    },
                })
                .collect(),
            flow_repeats: if by_volume {
                VOLUME_REPEATS
            } else {
                DROP_REPEATS
            },
            good_flow: readings.good_volume_ml.filter(|_| by_volume),
            flows: if by_volume { volumes } else { drops },
            powers: set(|one| one.rpm_drop, SQRT_2 * single * steps.rpm),
            pressure: [readings.rail.pressure_kpa, readings.rail.loaded_kpa],
            right_pressure: vehicle
                .rail_kpa
                .map(|[low, high]| (0.5 * (low + high), 0.5 * (high - low))),
            gauge_error: single * steps.gauge_kpa,
            hold: found.rail.map_or(Hold::Unknown, |rail| rail.hold),
        }
    }

    /// Cylinders that readings tell apart.
    pub fn cylinders(&self) -> impl Iterator<Item = u8> {
        let told = |coil: &&Coil| {
            coil.coil.is_some()
                || coil.click.is_some()
                || coil.pulse.is_some()
                || coil.seat != Leakage::Unknown
        };
        let electrical = self.coils.iter().filter(told).map(|coil| coil.cylinder);
        let sets = self.flows.iter().chain(&self.powers);
        electrical.chain(sets.map(|one| one.cylinder))
    }

    /// Logarithm of the likelihood of each piece. `bank_of` gives the bank (from 0) of a cylinder, where it is known.
    pub fn log_likelihood(
        &self,
        place: Place,
        expected: &OnTheBench,
        bank_of: impl Fn(u8) -> Option<usize>,
    ) -> [f64; PIECES] {
        let seat = |cylinder: u8| {
            let elsewhere = place.bank.zip(bank_of(cylinder));
            match (place.cylinder, elsewhere) {
                (Some(meant), _) if meant == cylinder => Seat::Meant,
                (_, Some((meant, bank))) if meant != bank => Seat::Elsewhere,
                _ => Seat::Beside,
            }
        };
        [
            self.electrical(expected, seat),
            self.flow(expected, seat),
            self.leakage(expected, seat),
            self.rail(expected),
            self.power(expected, seat),
        ]
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
        let spread =
            (square(CLEAN_SPREAD) + square(self.flow_repeats) + square(expected.flow_spread))
                .sqrt();
        let known = self.good_flow.map(|flow| (flow, DATA_SHEET));
        let with = |meant: f64| {
            let flow_at = |cylinder: u8| match seat(cylinder) {
                Seat::Meant => meant,
                Seat::Beside => expected.flow_beside,
                Seat::Elsewhere => 1.0,
            };
            fit(&self.flows, flow_at, spread, known)
        };
        match expected.gives_nothing {
            0.0 => with(expected.flow),
            nothing => log_mean([(nothing, with(0.0)), (1.0 - nothing, with(expected.flow))]),
        }
    }

    fn power(&self, expected: &OnTheBench, seat: impl Fn(u8) -> Seat) -> f64 {
        let power_at = |cylinder: u8| match seat(cylinder) {
            Seat::Meant => expected.power,
            Seat::Beside => expected.power_beside,
            Seat::Elsewhere => 1.0,
        };
        fit(&self.powers, power_at, POWER_SPREAD, None)
    }

    fn leakage(&self, expected: &OnTheBench, seat: impl Fn(u8) -> Seat) -> f64 {
        let one = |coil: &Coil| {
            let [drips, _] = one_of(expected, seat(coil.cylinder)).seat;
            let tight = 1.0
                - one_of(expected, seat(coil.cylinder))
                    .seat
                    .iter()
                    .sum::<f64>();
            match coil.seat {
                Leakage::Leaks => drips.ln(),
                Leakage::Ok => tight.ln(),
                Leakage::Unknown => 0.0,
            }
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

    /// Against the right pressure where that is known, and load against idle.
    fn rail(&self, expected: &OnTheBench) -> f64 {
        let [ratio_idle, ratio_loaded] = expected.pressure;
        let [idle, loaded] = self.pressure;
        let against_range = self
            .right_pressure
            .zip(idle)
            .map_or(0.0, |((middle, half), kpa)| {
                let error = (square(half / 2.0) + square(self.gauge_error)).sqrt() / middle;
                let spread = (square(error) + square(PRESSURE_SPREAD)).sqrt();
                t((kpa / middle - ratio_idle) / spread)
            });
        let under_load = idle
            .filter(|kpa| *kpa > 0.0)
            .zip(loaded)
            .map_or(0.0, |(idle, loaded)| {
                let expected = ratio_loaded / ratio_idle;
                let spread =
                    (square(SQRT_2 * self.gauge_error / idle) + square(PRESSURE_SPREAD)).sqrt();
                let ways = LOADED_RISE
                    .map(|(weight, rise)| (weight, t((loaded / idle - rise * expected) / spread)));
                log_mean(ways)
            });
        against_range + under_load
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

/// Logarithm of the likelihood of a set of readings that share an unknown factor, at the factor that fits best. `known` is
/// the factor with its relative error, where something tells it.
fn fit(set: &[Measured], share: impl Fn(u8) -> f64, spread: f64, known: Option<(f64, f64)>) -> f64 {
    if set.len() < 2 && known.is_none() || set.is_empty() {
        return 0.0;
    }
    // a share that is far from one is known less well by itself
    let rows: Vec<(f64, f64, f64)> = set
        .iter()
        .map(|one| (one.value, share(one.cylinder), one.error))
        .collect();
    let mut ratios: Vec<f64> = rows
        .iter()
        .filter(|(_, share, _)| *share > 0.1)
        .map(|(value, share, _)| value / share)
        .collect();
    ratios.sort_by(f64::total_cmp);
    let middle = ratios.get(ratios.len() / 2).copied().unwrap_or(0.0);
    let mut factor = known.map_or(middle, |(factor, _)| factor).max(1e-6);
    // weighted least squares with the weights of the t, again and again
    for _ in 0..TURNS {
        let (mut sum, mut weights) = known.map_or((0.0, 0.0), |(known, error)| {
            let weight = square(known * error).recip();
            (weight * known, weight)
        });
        for (value, share, error) in &rows {
            let scale = square(spread * factor) + square(*error);
            let distance = square(value - factor * share) / scale;
            let weight = (FREEDOM + 1.0) / (FREEDOM + distance) / scale;
            sum += weight * share * value;
            weights += weight * share * share;
        }
        factor = (sum / weights.max(1e-12)).max(1e-6);
    }
    let readings: f64 = rows
        .iter()
        .map(|(value, share, error)| {
            let scale = (square(spread) + square(error / factor)).sqrt();
            t((value / factor - share) / scale) - scale.ln()
        })
        .sum();
    readings
        + known.map_or(0.0, |(known, error)| {
            -0.5 * square((factor / known - 1.0) / error)
        })
}

/// Logarithm of Student's t density, up to a constant.
fn t(standardised: f64) -> f64 {
    -0.5 * (FREEDOM + 1.0) * (square(standardised) / FREEDOM).ln_1p()
}

/// ln Σ weight · exp(value).
fn log_mean(parts: [(f64, f64); 2]) -> f64 {
    let most = parts.iter().map(|part| part.1).fold(f64::MIN, f64::max);
    let sum: f64 = parts
        .iter()
        .map(|(weight, value)| weight * (value - most).exp())
        .sum();
    most + sum.ln()
}

fn square(x: f64) -> f64 {
    x * x
}
