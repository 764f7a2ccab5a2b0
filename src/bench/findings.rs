//! All readings of a form judged together.

use serde::Serialize;
use toml::Spanned;

use super::{
    coil::{self, Electrical},
    flow::{
        DROP_LIMIT_KPA, Flow, Relative, USUAL_GAUGE_STEP_KPA, USUAL_GLASS_STEP_ML, VOLUME_LIMIT,
        relative,
    },
    form::{Form, InjectorEntry},
    rail::{self, Rail},
};
use crate::vehicle::Vehicle;

/// What the bench readings say.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// One entry an injector of the form, in its order.
    pub injectors: Vec<Injector>,
    /// The rail, when the form has it.
    pub rail: Option<Rail>,
}

/// What was found at one injector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Injector {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Coil resistance brought to 20 °C, ohms; `None` without a reading, a temperature, or for an open coil.
    pub ohms_at_20c: Option<f64>,
    /// What the coil says.
    pub electrical: Electrical,
    /// Whether it clicks.
    pub click: Option<bool>,
    /// Whether the drive pulse arrives.
    pub pulse: Option<bool>,
    /// Flow over the mean of the set.
    pub relative_flow: Option<f64>,
    /// Lowest value that the instrument allows.
    pub low: Option<f64>,
    /// Highest.
    pub high: Option<f64>,
    /// What the flow says.
    pub flow: Flow,
}

/// Judges a form. Volumes of the flow bench go before pressure drops, which depend on rail and pump too.
pub fn findings(form: &Form, vehicle: &Vehicle) -> Findings {
    let temperature_c = number(&form.coil_temperature_c);
    let cold = |entry: &InjectorEntry| {
        let read = number(&entry.ohms)?;
        read.is_finite()
            .then_some(coil::at_20_c(read, temperature_c?))
    };
    let at_20_c: Vec<Option<f64>> = form.injector.iter().map(cold).collect();
    let known: Vec<f64> = at_20_c.iter().flatten().copied().collect();
    let range = coil::range(vehicle.coil_ohms, &known);
    let judged = form.injector.iter().zip(at_20_c).zip(flows(form));
    let injectors = judged.map(|((entry, ohms_at_20c), flow)| Injector {
        cylinder: *entry.cylinder.get_ref(),
        ohms_at_20c,
        electrical: coil::electrical(number(&entry.ohms), ohms_at_20c, range),
        click: entry.click,
        pulse: entry.pulse,
        relative_flow: flow.map(|flow| flow.flow),
        low: flow.map(|flow| flow.low),
        high: flow.map(|flow| flow.high),
        flow: flow.map_or(Flow::Unknown, |flow| flow.verdict),
    });
    Findings {
        injectors: injectors.collect(),
        rail: form
            .rail
            .as_ref()
            .map(|entry| rail::judge(entry, vehicle.rail_kpa)),
    }
}

fn flows(form: &Form) -> Vec<Option<Relative>> {
    let readings = |of: fn(&InjectorEntry) -> &Option<Spanned<f64>>| -> Vec<Option<f64>> {
        form.injector
            .iter()
            .map(|entry| number(of(entry)))
            .collect()
    };
    let glass_step_ml = number(&form.glass_step_ml).unwrap_or(USUAL_GLASS_STEP_ML);
    // A glass is read once: off by half a step. A drop is the difference of two readings: off by a whole one.
    let by_volume = relative(
        &readings(|entry| &entry.volume_ml),
        glass_step_ml / 2.0,
        |mean| VOLUME_LIMIT * mean,
    );
    if by_volume.iter().any(Option::is_some) {
        return by_volume;
    }
    let gauge_step_kpa = number(&form.gauge_step_kpa).unwrap_or(USUAL_GAUGE_STEP_KPA);
    relative(&readings(|entry| &entry.drop_kpa), gauge_step_kpa, |_| {
        DROP_LIMIT_KPA
    })
}

fn number(value: &Option<Spanned<f64>>) -> Option<f64> {
    value.as_ref().map(|value| *value.get_ref())
}
