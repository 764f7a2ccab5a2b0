//! How one engine differs from its drawing: the healthy spread of parts, and the faults put into it.

use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

use crate::{
    cause::Cause,
    simulator::car::{fault::Fault, fleet::CarSpec},
};

use super::{
    nature::{FaultPhysics, Nature, Parts, normal},
    wander::Curve,
};

/// One engine as it is.
#[derive(Debug, Clone)]
pub struct Condition {
    /// How engines of its kind behave.
    pub nature: Nature,
    /// Banks, bank 1 first.
    pub banks: Vec<BankCondition>,
    /// Unmetered air, as a share of the air at warm idle.
    pub leak_of_idle_air: f64,
    /// Ratio of the MAF or MAP sensor's reading to the truth at light cruise, from a fault.
    pub maf_gain: f64,
    /// Ratio of the MAF or MAP sensor's reading to the truth at light cruise, from age, before any fault.
    pub maf_age: f64,
    /// Rail pressure error as a share, negative for too low.
    pub pressure_error: f64,
    /// Vapour that a stuck purge valve lets in, as a share of the fuel at warm idle.
    pub purge_of_idle_fuel: f64,
    /// Ethanol in the fuel, new minus expected, as a volume share.
    pub ethanol_change: f64,
    /// Fuel trim that the healthy car needs by itself.
    pub curve: Curve,
    /// How much later than expected the injectors open, ms.
    pub late_opening_ms: f64,
}

/// One bank.
#[derive(Debug, Clone)]
pub struct BankCondition {
    /// Cylinders of the bank.
    pub cylinders: Vec<CylinderCondition>,
    /// Share of the leaked air that the bank takes, besides its share of all cylinders.
    pub leak_share: f64,
    /// Air drawn into the bank's exhaust ahead of the sensor, as a share of the bank's air at warm idle.
    pub exhaust_leak: f64,
    /// Share of the bank's flow that a blocked exhaust takes at high flow.
    pub exhaust_blocked: f64,
    /// Distance of the oxygen sensor's switching point from the stoichiometric ratio, as a share; above 0 it reads
    /// stoichiometric gas as lean.
    pub sensor_bias: f64,
}

/// One cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderCondition {
    /// Number of the cylinder, from 1.
    pub number: u8,
    /// Fuel an opening of its sound injector gives, against nominal; 0 for a dead one.
    pub injector_flow: f64,
    /// Share of that which dirt takes.
    pub restriction: f64,
    /// Dripping fuel, as a share of its fuel at warm idle.
    pub drip_of_idle_fuel: f64,
    /// Share of firings that a weak spark fails at light cruise.
    pub ignition_failing: f64,
    /// Share of its compression lost.
    pub compression_loss: f64,
    /// Share of firings that fail anyway.
    pub random_failing: f64,
}

impl CylinderCondition {
    /// A sound cylinder.
    pub const fn new(number: u8) -> Self {
        Self {
            number,
            injector_flow: 1.0,
            restriction: 0.0,
            drip_of_idle_fuel: 0.0,
            ignition_failing: 0.0,
            compression_loss: 0.0,
            random_failing: 0.0,
        }
    }

    /// Fuel an opening gives, against nominal, when a restriction takes `narrower` times its stated share.
    pub fn flow(&self, narrower: f64) -> f64 {
        self.injector_flow * (1.0 - (self.restriction * narrower).min(0.98))
    }

    /// Puts one fault into it, if it is meant.
    fn suffer(&mut self, fault: &Fault, uneven: f64) {
        let size = fault.severity / 100.0;
        let here = fault.place == Some(self.number);
        match fault.cause {
            Cause::InjectorRestricted if here => self.restrict(size),
            Cause::InjectorDead if here => self.injector_flow = 0.0,
            Cause::InjectorLeaking if here => self.drip_of_idle_fuel += size,
            Cause::IgnitionWeak if here => self.ignition_failing += size,
            Cause::CompressionLow if here => self.compression_loss += size,
            Cause::InjectorsRestrictedSeveral => self.restrict(size * uneven),
            Cause::MisfireRandom => self.random_failing += size * uneven,
            _ => {}
        }
    }

    fn restrict(&mut self, loss: f64) {
        self.restriction = 1.0 - (1.0 - self.restriction) * (1.0 - loss);
    }
}

impl BankCondition {
    /// Mean of its injectors' flows against nominal.
    pub fn mean_injector_flow(&self) -> f64 {
        let flows = self.cylinders.iter().map(|cylinder| cylinder.flow(1.0));
        flows.sum::<f64>() / self.cylinders.len() as f64
    }

    fn new(cylinders: &[u8], of_all: usize, parts: &Parts, random: &mut Pcg64Mcg) -> Self {
        let drawn = cylinders.iter().map(|number| CylinderCondition {
            injector_flow: 1.0 + normal(random, parts.injector_spread),
            ..CylinderCondition::new(*number)
        });
        Self {
            cylinders: drawn.collect(),
            leak_share: cylinders.len() as f64 / of_all as f64,
            exhaust_leak: 0.0,
            exhaust_blocked: 0.0,
            sensor_bias: 0.0,
        }
    }

    fn suffer(&mut self, fault: &Fault, number: u8, physics: &FaultPhysics) {
        let size = fault.severity / 100.0;
        match fault.cause {
            Cause::ExhaustLeak if fault.place == Some(number) => self.exhaust_leak += size,
            Cause::ExhaustBlockedOneBank if fault.place == Some(number) => {
                self.exhaust_blocked += size;
            }
            Cause::InjectorsRestrictedSeveral if fault.place != Some(number) => return,
            _ => {}
        }
        let of = self.cylinders.len();
        for (index, cylinder) in self.cylinders.iter_mut().enumerate() {
            cylinder.suffer(fault, physics.uneven(index, of));
        }
    }
}

impl Condition {
    /// The engine of the car drawn by `seed`, with its faults; the same seed gives the same car whatever the faults.
    pub fn draw(spec: &CarSpec, nature: Nature, faults: &[Fault], seed: u64) -> Self {
        let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x656e_6769_6e65);
        let all = spec.cylinder_count();
        let banks = spec.banks.iter();
        let parts = &nature.parts;
        let mut condition = Self {
            nature,
            banks: banks
                .map(|cylinders| BankCondition::new(cylinders, all, parts, &mut random))
                .collect(),
            leak_of_idle_air: 0.0,
            maf_gain: 1.0,
            maf_age: 1.0 + parts.maf_error,
            pressure_error: 0.0,
            purge_of_idle_fuel: 0.0,
            ethanol_change: 0.0,
            curve: Curve::draw(parts, &mut random),
            late_opening_ms: normal(&mut random, parts.opening_spread_ms),
        };
        for bank in &mut condition.banks {
            bank.sensor_bias = normal(&mut random, parts.sensor_spread);
        }
        for fault in faults {
            condition.suffer(fault);
        }
        condition
    }

    /// An engine exactly as drawn, with its faults.
    #[cfg(test)]
    pub fn ideal(spec: &CarSpec, faults: &[Fault]) -> Self {
        let mut condition = Self::draw(spec, Nature::USUAL, &[], 0);
        condition.curve = Curve::FLAT;
        condition.late_opening_ms = 0.0;
        for cylinder in condition
            .banks
            .iter_mut()
            .flat_map(|bank| &mut bank.cylinders)
        {
            cylinder.injector_flow = 1.0;
        }
        for fault in faults {
            condition.suffer(fault);
        }
        condition
    }

    fn suffer(&mut self, fault: &Fault) {
        let size = fault.severity / 100.0;
        match fault.cause {
            Cause::IntakeLeak => self.leak_of_idle_air += size,
            Cause::IntakeLeakOneBank => self.leak_at_bank(size, fault.place),
            Cause::AirMeterLow => self.maf_gain *= 1.0 - size,
            Cause::AirMeterHigh => self.maf_gain *= 1.0 + size,
            Cause::FuelPressureLow => self.pressure_error -= size,
            Cause::FuelPressureHigh => self.pressure_error += size,
            Cause::PurgeStuck => self.purge_of_idle_fuel += size,
            Cause::FuelBlend => self.ethanol_change += size,
            _ => {}
        }
        for (bank, number) in self.banks.iter_mut().zip(1..) {
            bank.suffer(fault, number, &self.nature.faults);
        }
    }

    fn leak_at_bank(&mut self, size: f64, place: Option<u8>) {
        self.leak_of_idle_air += size;
        let others = (self.banks.len() as f64 - 1.0).max(1.0);
        let own_share = self.nature.faults.own_leak_share;
        for (bank, number) in self.banks.iter_mut().zip(1..) {
            let own = place == Some(number);
            bank.leak_share = if own {
                own_share
            } else {
                (1.0 - own_share) / others
            };
        }
    }
}
