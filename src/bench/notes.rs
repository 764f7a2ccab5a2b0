//! What follows from bench readings, or is odd about them, in sentences for the person who took them.

use crate::vehicle::Vehicle;

use super::{
    coil::{Electrical, Standard},
    doubt,
    flow::Flow,
    injector::Injector,
    leakage::Leakage,
    power::Power,
    rail::{Hold, Rail},
    readings::{InjectorReadings, Readings},
};

/// Gain in volume, percent, below which an injector was not dirty, or was not cleaned: the repeatability of a good flow
/// bench (common practice).
const GAIN_PCT: f64 = 3.0;

/// All notes, the most serious first.
pub fn of(
    readings: &Readings,
    vehicle: &Vehicle,
    coils: &Standard,
    injectors: &[Injector],
    rail: Option<&Rail>,
) -> Vec<String> {
    let mut notes = Vec::new();
    electrical(&mut notes, injectors);
    doubts(&mut notes, readings, injectors);
    coil_range(&mut notes, readings, coils);
    odd_coils(&mut notes, injectors, coils);
    flow(&mut notes, injectors);
    alone(&mut notes, readings);
    leakage(&mut notes, readings, injectors);
    cleaning(&mut notes, injectors);
    power(&mut notes, readings, injectors);
    pressure(&mut notes, vehicle, rail);
    notes
}

/// The cylinders of the injectors that satisfy `is`, as in "cylinders 2 and 3"; `None` without any.
fn cylinders(injectors: &[Injector], is: impl Fn(&Injector) -> bool) -> Option<String> {
    let numbers: Vec<String> = injectors
        .iter()
        .filter(|one| is(one))
        .map(|one| one.cylinder.to_string())
        .collect();
    let (last, before) = numbers.split_last()?;
    Some(match before {
        [] => format!("cylinder {last}"),
        _ => format!("cylinders {} and {last}", before.join(", ")),
    })
}

fn electrical(notes: &mut Vec<String>, injectors: &[Injector]) {
    let dead = Injector::is_dead;
    if injectors.len() > 1 && injectors.iter().all(|one| one.electrical.is_dead()) {
        notes.push(
            "Every injector winding reads dead: check the meter, its leads and range, and the connector first."
                .to_owned(),
        );
    } else if let Some(which) = cylinders(injectors, dead) {
        notes.push(format!(
            "Electrically dead: {which}. Cleaning cannot help, only a new injector can."
        ));
    }
    let no_pulse = |one: &Injector| one.pulse == Some(false) && !dead(one);
    if let Some(which) = cylinders(injectors, no_pulse) {
        notes.push(format!(
            "No drive pulse at {which}: check wiring, connector and driver before you touch the injector."
        ));
    }
    let stuck = |one: &Injector| one.click == Some(false) && one.pulse == Some(true) && !dead(one);
    if let Some(which) = cylinders(injectors, stuck) {
        notes.push(format!(
            "Pulse but no click at {which}: stuck or burnt inside. Measure its winding, and expect to replace it."
        ));
    }
}

/// Readings of one injector that contradict each other.
fn doubts(notes: &mut Vec<String>, readings: &Readings, injectors: &[Injector]) {
    let both = readings.injectors.iter().zip(injectors);
    notes
        .extend(both.filter_map(|(read, one)| doubt::words(read, one.electrical, &readings.steps)));
}

fn coil_range(notes: &mut Vec<String>, readings: &Readings, coils: &Standard) {
    if readings.injectors.iter().all(|one| one.ohms.is_none()) {
        return;
    }
    match (coils.range, readings.coil_temperature_c) {
        (None, _) => notes.push(
            "Windings of this kind can be judged only by the manufacturer's range: put coil_ohms = [lowest, highest] \
             into the vehicle file."
                .to_owned(),
        ),
        (Some(_), None) => notes.push(
            "No temperature written down: only dead and odd windings can be found. A hot winding reads a quarter more."
                .to_owned(),
        ),
        _ => {}
    }
}

fn odd_coils(notes: &mut Vec<String>, injectors: &[Injector], coils: &Standard) {
    let odd = |one: &Injector| one.electrical == Electrical::OutOfRange;
    let read = || injectors.iter().filter(|one| one.ohms_at_20c.is_some());
    let all = read().count() > 1 && read().all(odd);
    match (cylinders(injectors, odd), coils.range) {
        (Some(_), Some([low, high])) if all => notes.push(format!(
            "Every winding is outside {low} to {high} Ω: is that this car's range, and was the temperature right?"
        )),
        (Some(which), _) => notes.push(format!(
            "Winding out of range or unlike the others: {which}. Measure once more at the injector's own pins."
        )),
        (None, _) => {}
    }
}

fn flow(notes: &mut Vec<String>, injectors: &[Injector]) {
    let low = cylinders(injectors, |one| one.flow == Flow::Restricted);
    let measured = || injectors.iter().filter(|one| one.relative_flow.is_some());
    let unknown = cylinders(injectors, |one| {
        one.relative_flow.is_some() && one.flow == Flow::Unknown
    });
    if let Some(which) = low {
        notes.push(format!("Restricted (low flow): {which}."));
    } else if measured().count() > 1 && measured().all(|one| one.flow == Flow::Ok) {
        notes.push(
            "The injectors measured deliver the same. Only good_volume_ml could show whether all of them are down."
                .to_owned(),
        );
    }
    if let Some(which) = unknown {
        notes.push(format!(
            "The instrument is too coarse to judge {which}: use longer pulses, more of them, or a finer gauge."
        ));
    }
}

/// Notes that a flow without others to compare it with cannot be judged.
fn alone(notes: &mut Vec<String>, readings: &Readings) {
    let measured = |each: Vec<Option<f64>>| each.into_iter().flatten().count();
    let volumes = measured(readings.each(|one| one.volume_ml));
    let drops = measured(readings.each(|one| one.drop_kpa));
    if volumes.max(drops) == 1 {
        notes.push(
            "The flow of one injector alone says nothing: measure the others in the same way."
                .to_owned(),
        );
    }
}

fn leakage(notes: &mut Vec<String>, readings: &Readings, injectors: &[Injector]) {
    if let Some(which) = cylinders(injectors, |one| one.leakage == Leakage::Leaks) {
        notes.push(format!("Leaks: {which}."));
    }
    let counted = |one: &Injector| {
        let of_it = |read: &&InjectorReadings| read.cylinder == one.cylinder;
        let read = readings.injectors.iter().find(of_it);
        read.is_some_and(|read| read.drops_per_minute.is_some())
    };
    let between = |one: &Injector| one.leakage == Leakage::Unknown && counted(one);
    if let Some(which) = cylinders(injectors, between) {
        notes.push(format!(
            "Between good and leaking: {which}. A good injector lets through no more than one drop in five minutes."
        ));
    }
}

fn cleaning(notes: &mut Vec<String>, injectors: &[Injector]) {
    let bad = |one: &Injector| one.flow_after == Flow::Restricted;
    if let Some(which) = cylinders(injectors, bad) {
        notes.push(format!(
            "Still restricted after cleaning: {which}. Only a new injector helps."
        ));
    }
    let gains: Vec<f64> = injectors.iter().filter_map(|one| one.gained_pct).collect();
    let most = gains.iter().copied().reduce(f64::max);
    match most {
        Some(most) if most < GAIN_PCT => notes.push(format!(
            "Cleaning gained {most:.0} % at most: these injectors were not dirty."
        )),
        _ => {}
    }
    if let Some(which) = cylinders(injectors, |one| {
        one.gained_pct.is_some_and(|gain| gain < -5.0)
    }) {
        notes.push(format!(
            "Less flow after cleaning than before at {which}: were the volumes swapped, or the filter left out?"
        ));
    }
}

fn power(notes: &mut Vec<String>, readings: &Readings, injectors: &[Injector]) {
    let falls = readings.injectors.iter().filter_map(|one| one.rpm_drop);
    if let Some(which) = cylinders(injectors, |one| one.power == Power::Weak) {
        notes.push(format!(
            "Contributes hardly any power at idle: {which}. That can be injector, ignition or compression."
        ));
    } else if falls.clone().count() > 2 && injectors.iter().all(|one| one.power == Power::Unknown) {
        notes.push(
            "The speed hardly drops whichever cylinder is off: the idle control holds it. Disable that, or raise the \
             speed a little, and repeat."
                .to_owned(),
        );
    }
}

fn pressure(notes: &mut Vec<String>, vehicle: &Vehicle, rail: Option<&Rail>) {
    let Some(rail) = rail else { return };
    if rail.pressure_kpa.is_some() && vehicle.rail_kpa.is_none() {
        notes.push(
            "Rail pressure can be judged only by the car's own range: put rail_kpa = [lowest, highest] into the \
             vehicle file."
                .to_owned(),
        );
    }
    if let (Some(false), Some(pressure), Some([low, _])) =
        (rail.in_range, rail.pressure_kpa, vehicle.rail_kpa)
    {
        let note = if pressure < low {
            "Rail pressure is below this car's range: check pump, filter and regulator before any injector."
        } else {
            "Rail pressure is above this car's range: check the regulator and the return line before any injector."
        };
        notes.push(note.to_owned());
    }
    if rail.falls_under_load == Some(true) {
        notes.push(
            "Rail pressure drops under load: check pump, filter and pump supply before any injector."
                .to_owned(),
        );
    }
    if rail.hold == Hold::Leaks {
        notes.push(
            "Leak-down: the pressure drops. It is an injector, the regulator or the pump's check valve. To find out \
             which, pinch the return line, then the supply line, where the manufacturer allows it."
                .to_owned(),
        );
    }
}
