//! All readings of a form judged together.

use super::{
    coil::{self, Standard},
    doubt,
    flow::{self, Flow, Relative},
    injector::Injector,
    leakage, notes, power,
    rail::{self, Rail},
    readings::{InjectorReadings, Readings},
};
use crate::vehicle::Vehicle;

/// Findings from the bench readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// One entry for each injector of the form, in its order.
    pub injectors: Vec<Injector>,
    /// The rail; `None` where the form has no rail readings.
    pub rail: Option<Rail>,
    /// What follows from the readings, or is odd about them, in plain sentences.
    pub notes: Vec<String>,
}

/// Judges readings. Flow bench volumes take precedence over pressure drops, which depend on rail and pump too.
pub fn findings(readings: &Readings, vehicle: &Vehicle) -> Findings {
    let steps = &readings.steps;
    let coils = Standard::of(vehicle, &readings.each(|one| one.ohms), steps.ohms);
    let flows = flows(readings);
    let after = flow::by_volumes(&readings.each(|one| one.volume_after_ml), steps.glass_ml);
    let powers = power::judge(&readings.each(|one| one.rpm_drop), steps.rpm);
    let rows = readings.injectors.iter().zip(flows).zip(after).zip(powers);
    let injectors: Vec<Injector> = rows
        .map(|(((read, flow), after), power)| {
            let ohms_at_20c = ohms_at_20_c(read, readings.coil_temperature_c);
            let leakage = read.drops_per_minute_after.or(read.drops_per_minute);
            let electrical = coils.judge(read.ohms, readings.coil_temperature_c);
            Injector {
                cylinder: read.cylinder,
                ohms_at_20c,
                electrical,
                works_though_dead: doubt::works_though_dead(read, electrical, steps),
                click: read.click,
                pulse: read.pulse,
                relative_flow: flow.map(|flow| flow.flow),
                low: flow.map(|flow| flow.low),
                high: flow.map(|flow| flow.high),
                flow: flow.map_or(Flow::Unknown, |flow| flow.verdict),
                relative_flow_after: after.map(|flow| flow.flow),
                flow_after: after.map_or(Flow::Unknown, |flow| flow.verdict),
                gained_pct: gained_pct(read),
                leakage: leakage::judge(leakage),
                rpm_drop: read.rpm_drop,
                power,
            }
        })
        .collect();
    let rail = rail::judge(&readings.rail, vehicle.rail_kpa, steps.gauge_kpa);
    Findings {
        notes: notes::of(readings, vehicle, &coils, &injectors, rail.as_ref()),
        injectors,
        rail,
    }
}

fn flows(readings: &Readings) -> Vec<Option<Relative>> {
    let volumes = readings.each(|one| one.volume_ml);
    let by_volume = flow::by_volumes(&volumes, readings.steps.glass_ml);
    if by_volume.iter().any(Option::is_some) {
        return by_volume;
    }
    flow::by_drops(&readings.each(|one| one.drop_kpa), readings.steps.gauge_kpa)
}

fn ohms_at_20_c(read: &InjectorReadings, temperature_c: Option<f64>) -> Option<f64> {
    let ohms = read.ohms.filter(|ohms| ohms.is_finite())?;
    Some(coil::at_20_c(ohms, temperature_c?))
}

fn gained_pct(read: &InjectorReadings) -> Option<f64> {
    let before = read.volume_ml.filter(|before| *before > 0.0)?;
    Some(100.0 * (read.volume_after_ml? / before - 1.0))
}
