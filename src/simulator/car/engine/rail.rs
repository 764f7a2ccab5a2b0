//! The rail's pressure and what its sensor tells of it.

use crate::vehicle::Injection;

use super::{
    fuel,
    machine::Engine,
    nature::{RailNature, Regulator},
};

/// Pump in the tank of a car with direct injection, kPa gauge.
const LIFT_KPA: f64 = 480.0;
/// Direct injection: pressure at idle, and what a full charge asks for on top, kPa.
const HIGH_IDLE_KPA: f64 = 4_500.0;
const HIGH_RISE_KPA: f64 = 13_500.0;
/// Filling of the cylinders below which pressure stands at its idle value, and above which it rises no more.
const RISE_FROM: f64 = 0.3;
const RISE_OVER: f64 = 0.6;
/// What is left in the rail with the engine off, as a share.
const AT_REST: f64 = 0.7;

/// The rail as its sensors tell it, kPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailReadings {
    /// Of the rail that the pump in the tank feeds, gauge.
    pub low_kpa: f64,
    /// Of the rail at the injectors, gauge; the same where fuel is injected into the ports.
    pub gauge_kpa: f64,
    /// What the controller commands there, gauge.
    pub commanded_kpa: f64,
}

impl Engine {
    pub(super) fn rail(&self) -> RailReadings {
        let nature = self.condition.nature.rail;
        let ratio = if self.runs() {
            fuel::pressure_ratio(
                self.condition.pressure_error,
                self.per_litre(self.air).max(0.2),
                &self.condition.nature.faults,
            )
        } else {
            AT_REST
        };
        let filling = self.manifold.pressure_kpa / self.barometer_kpa;
        let charge = ((filling - RISE_FROM) / RISE_OVER).clamp(0.0, 1.0);
        let told = |kpa: f64| kpa.max(0.0) * nature.sensor_gain;
        if self.spec.injection == Injection::Direct {
            let commanded_kpa = HIGH_IDLE_KPA + HIGH_RISE_KPA * charge;
            return RailReadings {
                low_kpa: told(LIFT_KPA * ratio),
                gauge_kpa: told(commanded_kpa * ratio),
                commanded_kpa,
            };
        }
        let vacuum = (self.barometer_kpa - self.manifold.pressure_kpa).max(0.0);
        let commanded_kpa = self.set_kpa(nature, charge, vacuum);
        // what lacks, lacks across the injector
        let gauge = told((commanded_kpa + vacuum) * ratio - vacuum);
        RailReadings {
            low_kpa: gauge,
            gauge_kpa: gauge,
            commanded_kpa,
        }
    }

    /// What the regulator holds, gauge.
    fn set_kpa(&self, nature: RailNature, charge: f64, vacuum: f64) -> f64 {
        let [least, most] = self.spec.rail_kpa;
        let set = least + nature.set * (most - least);
        match nature.regulator {
            Regulator::Fixed => set,
            Regulator::FollowsManifold => set - vacuum,
            Regulator::Moved => set * (0.92 + 0.16 * charge),
        }
    }
}
