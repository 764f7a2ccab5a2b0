//! Single facts about car and trip.

use crate::{
    bank::Bank,
    identity::CarIdentity,
    series::{
        gather::{full_load::FullLoad, operation::Mean},
        label::{Label, alike::Alike},
        summary::Facts,
        timeline::{moment::Moment, quantity::Quantity},
        warning::NotJudged,
    },
};

/// Fuel type codes of diesel, diesel hybrid and bi-fuel running on diesel (SAE J1979, PID 51).
const DIESEL: [u8; 3] = [0x04, 0x13, 0x17];

/// Seconds of running at exactly 0 from the start after which a long term trim may have been cleared (assumed).
const AT_ZERO_S: u32 = 60;
/// Movement away from 0, percent, that later confirms the clearing of a long term trim (assumed).
const MOVED_PCT: f64 = 1.5;

/// Collects facts from every moment.
#[derive(Debug, Clone, Default)]
pub struct FactFinder {
    facts: Facts,
    intake_air: Mean,
    full_load: FullLoad,
    long_trim: FromZero,
    alike: Alike,
    /// Start of the recording; `None` where it is not known.
    pub started: Option<jiff::Timestamp>,
    /// Whether a list of codes was requested and answered.
    pub codes_asked: bool,
    /// The car's identity.
    pub car: CarIdentity,
}

/// Whether the long term trim began at zero and moved away.
#[derive(Debug, Clone, Default)]
struct FromZero {
    zero_s: u32,
    began_elsewhere: bool,
    moved: bool,
}

impl FromZero {
    /// Takes a moment in which the engine runs.
    fn push(&mut self, moment: &Moment) {
        let known = Bank::ALL
            .map(Quantity::long_trim)
            .into_iter()
            .filter_map(|q| moment.get(q));
        let Some(largest) = known.map(f64::abs).reduce(f64::max) else {
            return;
        };
        match largest > 0.0 {
            false => self.zero_s += 1,
            true if self.zero_s < AT_ZERO_S => self.began_elsewhere = true,
            true => self.moved |= !self.began_elsewhere && largest >= MOVED_PCT,
        }
    }
}

impl FactFinder {
    /// Takes a moment, whatever its label.
    pub fn push(&mut self, moment: &Moment, label: Label) {
        if !matches!(label, Label::EngineOff | Label::Stale) {
            self.alike.push(moment);
        }
        let get = |quantity| moment.get(quantity);
        let facts = &mut self.facts;
        facts.air_flow_seen |= get(Quantity::AirFlow).is_some_and(|flow| flow > 0.0);
        facts.manifold_pressure_seen |= get(Quantity::ManifoldPressure).is_some_and(|p| p > 0.0);
        facts.loop_status_seen |= get(Quantity::LoopStatus1).is_some_and(|code| code > 0.0);
        facts.fuel_type = get(Quantity::FuelType)
            .map(|code| code as u8)
            .or(facts.fuel_type);
        facts.ethanol_pct = get(Quantity::Ethanol).or(facts.ethanol_pct);
        facts.barometer_kpa = get(Quantity::Barometer).or(facts.barometer_kpa);
        if let Some(level) = get(Quantity::FuelLevel) {
            let start = facts.fuel_level_pct.map_or(level, |(start, _)| start);
            facts.fuel_level_pct = Some((start, level));
        }
        let first = |fact: &mut Option<f64>, quantity| *fact = fact.or(get(quantity));
        first(&mut facts.minutes_since_clear, Quantity::TimeSinceClear);
        first(&mut facts.warm_ups_since_clear, Quantity::WarmUpsSinceClear);
        first(&mut facts.km_since_clear, Quantity::DistanceSinceClear);
        if !matches!(label, Label::EngineOff | Label::Stale) {
            self.long_trim.push(moment);
        }
        self.intake_air.push(get(Quantity::IntakeAir));
        self.full_load.push(moment, label);
    }

    /// The facts so far.
    pub fn facts(&self) -> Facts {
        let diesel = self
            .facts
            .fuel_type
            .is_some_and(|code| DIESEL.contains(&code));
        let alike = self.alike.all().then_some(NotJudged::TrimsAlike);
        Facts {
            not_judged: diesel.then_some(NotJudged::Diesel).or(alike),
            copied_banks: self.alike.copies().collect(),
            intake_air_c: self.intake_air.get(),
            full_load_pct: self.full_load.highest_pct(),
            long_trim_from_zero: self.long_trim.moved,
            codes_asked: self.codes_asked,
            started: self.started,
            car: self.car.clone(),
            ..self.facts.clone()
        }
    }
}
