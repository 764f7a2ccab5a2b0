//! A technician with his instruments: steps, errors, rounding, wrong temperatures, mix-ups.

use pintle::bench::{InjectorReadings, RailReadings, Readings, Steps};

use super::parts::{Injector, Parts};
use crate::dice::Dice;

/// Steps that stand in a form when it names none.
const UNNAMED: Steps = Steps {
    ohms: 0.1,
    gauge_kpa: 5.0,
    glass_ml: 1.0,
    rpm: 10.0,
};
/// How often an instrument's step is named.
const NAMED: f64 = 0.5;
/// How often a kind of reading has two cylinders exchanged, and how often one entry of it is plainly wrong.
const EXCHANGED: f64 = 0.015;
const WRONG: f64 = 0.015;
/// How often only half of the injectors are measured, and how often one is left out by the way.
const HALF_MEASURED: f64 = 0.06;
const LEFT_OUT: f64 = 0.02;
/// Copper by common tables, per K from 20 °C.
const COPPER_PER_K: f64 = 0.003_93;

/// Every reading that the car allows.
pub fn measures(parts: &Parts, dice: &mut Dice) -> Readings {
    let own = Steps {
        ohms: dice.weighed(&[(0.75, 0.1), (0.10, 0.01), (0.15, 1.0)]),
        gauge_kpa: dice.weighed(&[
            (0.2, 1.0),
            (0.2, 2.0),
            (0.35, 5.0),
            (0.2, 10.0),
            (0.05, 20.0),
        ]),
        glass_ml: dice.weighed(&[(0.3, 0.5), (0.4, 1.0), (0.25, 2.0), (0.05, 5.0)]),
        rpm: dice.weighed(&[(0.3, 1.0), (0.45, 10.0), (0.25, 25.0)]),
    };
    let blank = |one: &Injector| InjectorReadings {
        cylinder: one.cylinder,
        ..InjectorReadings::default()
    };
    let mut sheet = Readings {
        steps: named(own, dice),
        coil_temperature_c: None,
        good_volume_ml: None,
        rail: rail(parts, own.gauge_kpa, dice),
        injectors: parts.injectors.iter().map(blank).collect(),
    };
    let bench = FlowBench::new(dice);
    let (ohms, temperature_c) = ohms(parts, own.ohms, dice);
    let volumes = bench.volumes(parts, own.glass_ml, dice);
    let falls = falls(parts, own.rpm, dice);
    let seats = seats(parts, dice);
    let drops = pressure_drops(parts, own.gauge_kpa, dice);
    sheet.coil_temperature_c = temperature_c;
    sheet.good_volume_ml = bench.data_sheet_ml;
    write(&mut sheet, ohms, dice, |one| &mut one.ohms);
    write(&mut sheet, volumes, dice, |one| &mut one.volume_ml);
    write(&mut sheet, falls, dice, |one| &mut one.rpm_drop);
    write(&mut sheet, seats, dice, |one| &mut one.drops_per_minute);
    if !parts.direct {
        write(&mut sheet, drops, dice, |one| &mut one.drop_kpa);
    }
    for (one, part) in sheet.injectors.iter_mut().zip(&parts.injectors) {
        // in the noise of an engine a click is missed, or a neighbour's is heard
        let missed = if parts.direct { 0.05 } else { 0.02 };
        one.click = Some(dice.chance(if part.moves { 1.0 - missed } else { 0.04 }));
        one.pulse = Some(dice.chance(if part.pulse { 0.995 } else { 0.03 }));
        if one.ohms == Some(f64::INFINITY) {
            // the form asks back until these agree
            one.click = Some(false);
        }
    }
    sheet
}

fn named(own: Steps, dice: &mut Dice) -> Steps {
    let mut step = |own: f64, unnamed: f64| if dice.chance(NAMED) { own } else { unnamed };
    Steps {
        ohms: step(own.ohms, UNNAMED.ohms),
        gauge_kpa: step(own.gauge_kpa, UNNAMED.gauge_kpa),
        glass_ml: step(own.glass_ml, UNNAMED.glass_ml),
        rpm: step(own.rpm, UNNAMED.rpm),
    }
}

/// Writes a kind of reading down, with what goes wrong on the way.
fn write(
    sheet: &mut Readings,
    mut read: Vec<f64>,
    dice: &mut Dice,
    entry: impl Fn(&mut InjectorReadings) -> &mut Option<f64>,
) {
    let count = read.len();
    let [exchanged, wrong] = [EXCHANGED, WRONG].map(|chance| dice.chance(chance));
    let [this, that] = [dice.index(count), dice.index(count)];
    let slip = dice.weighed(&[(0.5, 0.8), (0.5, 1.25)]);
    // nobody mistakes an open coil, and the form finds the entries that cannot stand beside it
    if read.iter().all(|value| value.is_finite()) {
        if exchanged {
            read.swap(this, that);
        }
        if wrong {
            read[this] *= slip;
        }
    }
    let half = dice.chance(HALF_MEASURED);
    let from = dice.index(count);
    for (index, (one, value)) in sheet.injectors.iter_mut().zip(read).enumerate() {
        let skipped = half && (index + from) % count >= count.div_ceil(2);
        let left_out = dice.chance(LEFT_OUT);
        *entry(one) = (!skipped && !left_out).then_some(value);
    }
}

fn rounded(value: f64, step: f64) -> f64 {
    step * (value / step).round()
}

/// Coils, all alike warm, with the temperature that is written beside them.
fn ohms(parts: &Parts, step: f64, dice: &mut Dice) -> (Vec<f64>, Option<f64>) {
    let warm = dice.chance(0.5);
    let c = if warm {
        dice.between(45.0, 100.0)
    } else {
        dice.between(2.0, 32.0)
    };
    let written = match dice.weighed(&[(0.30, 0), (0.15, 1), (0.55, 2)]) {
        0 => None,
        // the air's instead of the coil's
        1 => Some(dice.between(10.0, 28.0).round()),
        _ => Some((c + dice.normal(4.0)).round()),
    };
    let gain = 1.0 + dice.normal(0.008);
    let leads = dice.between(0.0, 0.4);
    let heated = 1.0 + COPPER_PER_K * (c - 20.0);
    let one = |part: &Injector| rounded(gain * part.coil_ohms * heated + leads, step);
    (parts.injectors.iter().map(one).collect(), written)
}

/// A flow bench and the data sheet that lies beside it.
struct FlowBench {
    nominal_ml: f64,
    repeats: f64,
    data_sheet_ml: Option<f64>,
}

impl FlowBench {
    fn new(dice: &mut Dice) -> Self {
        let nominal_ml = dice.log_between(30.0, 160.0);
        let off = if dice.chance(0.06) {
            dice.between(0.85, 1.15)
        } else {
            1.0 + dice.normal(0.025)
        };
        Self {
            nominal_ml,
            repeats: dice.between(0.005, 0.02),
            data_sheet_ml: dice.chance(0.45).then(|| (nominal_ml * off).round()),
        }
    }

    fn volumes(&self, parts: &Parts, step: f64, dice: &mut Dice) -> Vec<f64> {
        let injectors = parts.injectors.iter();
        let one = |part: &Injector| self.nominal_ml * part.flow * (1.0 + dice.normal(self.repeats));
        injectors
            .map(one)
            .map(|ml| rounded(ml.max(0.0), step))
            .collect()
    }
}

/// Pressure before less pressure after equal pulses, each read off the gauge.
fn pressure_drops(parts: &Parts, step: f64, dice: &mut Dice) -> Vec<f64> {
    let usual = dice.log_between(25.0, 110.0);
    let repeats = dice.between(0.01, 0.05);
    let one = |part: &Injector| {
        let start = parts.rail.pump_running * (1.0 + dice.normal(0.01));
        let drop = usual * part.flow * (1.0 + dice.normal(repeats));
        let end = (start - drop).max(0.0);
        (rounded(start, step) - rounded(end, step)).max(0.0)
    };
    parts.injectors.iter().map(one).collect()
}

/// Fall of the idle speed without each cylinder; idle control may hold it up.
fn falls(parts: &Parts, step: f64, dice: &mut Dice) -> Vec<f64> {
    let usual = dice.log_between(40.0, 140.0);
    let left = if dice.chance(0.4) {
        dice.between(0.1, 0.7)
    } else {
        1.0
    };
    let wanders = dice.between(3.0, 15.0);
    let one = |part: &Injector| usual * left * part.work + dice.normal(wanders);
    let falls = parts.injectors.iter().map(one);
    falls
        .map(|rpm| rounded(rpm.clamp(-200.0, 500.0), step))
        .collect()
}

/// Drops counted over one minute or five.
fn seats(parts: &Parts, dice: &mut Dice) -> Vec<f64> {
    let minutes = if dice.chance(0.3) { 5.0 } else { 1.0 };
    let first = dice.between(0.0, 1.0);
    let one = |part: &Injector| {
        let counted = (part.drops_per_minute * minutes + first).floor() / minutes;
        counted.min(600.0)
    };
    parts.injectors.iter().map(one).collect()
}

/// With a gauge; on direct injection by the car's own sensor, while it runs.
fn rail(parts: &Parts, step: f64, dice: &mut Dice) -> RailReadings {
    let rail = &parts.rail;
    let step = if parts.direct { 100.0 } else { step };
    let gain = 1.0 + dice.normal(0.015);
    // whoever rounds, rounds to tens
    let step = if dice.chance(0.25) {
        step.max(10.0)
    } else {
        step
    };
    let mut read = |kpa: f64| rounded((gain * kpa * (1.0 + dice.normal(0.005))).max(0.0), step);
    let [running, with_vacuum, loaded] = [
        rail.pump_running,
        (rail.pump_running - rail.vacuum).max(0.0),
        rail.loaded,
    ]
    .map(&mut read);
    let left = read(rail.pump_running * rail.left);
    // the range is that without vacuum; not everybody takes the hose off
    let hose_on = dice.chance(0.3);
    RailReadings {
        pressure_kpa: Some(if hose_on { with_vacuum } else { running }),
        loaded_kpa: Some(loaded),
        after_ten_minutes_kpa: (!parts.direct).then_some(left),
    }
}
