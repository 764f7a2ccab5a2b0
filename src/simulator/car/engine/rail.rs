//! The rail pressure and what its sensor reports.

use crate::vehicle::Injection;

use super::{
    fuel,
    machine::Engine,
    nature::{RailNature, Regulator},
};

/// Pump in the tank of a car with direct injection, kPa gauge.
const LIFT_KPA: f64 = 480.0;
/// Rail pressure of direct injection at idle, kPa (common practice).
const HIGH_IDLE_KPA: f64 = 4_500.0;
/// Rise of the rail pressure of direct injection from idle to a full charge, kPa (common practice).
const HIGH_RISE_KPA: f64 = 13_500.0;
/// Manifold ratio up to which the rail pressure has its idle value (assumed).
const RISE_FROM: f64 = 0.3;
/// Range of the manifold ratio above [`RISE_FROM`] over which the rail pressure rises (assumed).
const RISE_OVER: f64 = 0.6;
/// What is left in the rail with the engine off, as a share.
const AT_REST: f64 = 0.7;

/// Rail pressure as the sensors report it, kPa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailSensors {
    /// Gauge pressure of the rail that the in-tank pump feeds, kPa.
    pub low_kpa: f64,
    /// Gauge pressure of the rail at the injectors, kPa; equal to `low_kpa` with port injection.
    pub gauge_kpa: f64,
    /// Gauge pressure that the controller commands at the injectors, kPa.
    pub commanded_kpa: f64,
}

impl Engine {
    pub(super) fn rail(&self) -> RailSensors {
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
        let manifold_ratio = self.manifold.pressure_kpa / self.barometer_kpa;
        let charge = ((manifold_ratio - RISE_FROM) / RISE_OVER).clamp(0.0, 1.0);
        let reported = |kpa: f64| kpa.max(0.0) * nature.sensor_gain;
        if self.spec.injection == Injection::Direct {
            let commanded_kpa = HIGH_IDLE_KPA + HIGH_RISE_KPA * charge;
            return RailSensors {
                low_kpa: reported(LIFT_KPA * ratio),
                gauge_kpa: reported(commanded_kpa * ratio),
                commanded_kpa,
            };
        }
        let vacuum = (self.barometer_kpa - self.manifold.pressure_kpa).max(0.0);
        let commanded_kpa = self.set_kpa(nature, charge, vacuum);
        // what lacks, lacks across the injector
        let gauge = reported((commanded_kpa + vacuum) * ratio - vacuum);
        RailSensors {
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
