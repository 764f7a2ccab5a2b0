//! How air and fuel are shared out to the banks, and what the controller takes the air to be.

use crate::vehicle::{AirMetering, Injection};

use super::{
    air,
    bank::Inputs,
    condition::{BankCondition, Condition},
    controller::Situation,
    fuel::Supply,
    machine::Engine,
    trims,
    wander::Wander,
};

/// Air flow per litre of displacement at light cruise, g/s/L, at which an error of the MAF sensor has its stated size
/// (common practice).
const CRUISE_FLOW: f64 = 7.0;

/// A point of operation.
#[derive(Debug, Clone, Copy)]
pub struct Point {
    /// Air into the cylinders, g/s.
    pub air: f64,
    /// Engine speed, rpm.
    pub rpm: f64,
    /// Manifold pressure against the barometer.
    pub manifold_ratio: f64,
}

impl Engine {
    /// Air that a bank breathes when the engine breathes `air`, `leak` of it unmetered.
    pub(super) fn bank_air(&self, bank: &BankCondition, air: f64, leak: f64) -> f64 {
        let share = bank.cylinders.len() as f64 / self.spec.cylinder_count() as f64;
        let blocked = |bank: &BankCondition| {
            let physics = &self.condition.nature.faults;
            if bank.exhaust_blocked <= 0.0 {
                return 0.0;
            }
            let flow = self.per_litre(air) / physics.blocked_flow;
            bank.exhaust_blocked * flow.powf(physics.blocked_power).min(1.2)
        };
        let elsewhere: f64 = self.condition.banks.iter().map(blocked).sum();
        let others = (self.banks.len() as f64 - 1.0).max(1.0);
        let own = blocked(bank);
        let kept = 1.0 - own + (elsewhere - own) / others;
        match self.spec.air_metering {
            AirMetering::Maf => (air - leak).max(0.0) * share * kept + leak * bank.leak_share,
            // every cylinder breathes by the plenum's pressure; near the leak a little more
            AirMetering::Map => air * share * kept + leak * (bank.leak_share - share).max(0.0),
        }
    }

    /// False oxygen at a bank's sensor from a leak in its exhaust: strong at low flow, where the pulses dip below the
    /// surroundings, fading as the flow grows.
    pub(super) fn exhaust_leak_factor(&self, bank: &BankCondition, air: f64) -> f64 {
        if bank.exhaust_leak <= 0.0 {
            return 1.0;
        }
        let power = self.condition.nature.faults.exhaust_leak_power;
        1.0 + bank.exhaust_leak * (self.idle_air / air.max(0.1)).powf(power).min(2.0)
    }

    /// Empties the canister by what is drawn through it.
    pub(super) fn purge_canister(&mut self, dt: f64) {
        let open = self.commanded_purge() + self.stands_open();
        let vacuum = air::nozzle(self.manifold.pressure_kpa / self.barometer_kpa);
        self.canister.purge(open.min(1.0), vacuum, dt);
    }

    /// How far a valve that does not shut stands open.
    fn stands_open(&self) -> f64 {
        if self.condition.purge_of_idle_fuel > 0.0 {
            self.condition.nature.faults.purge_stands_open
        } else {
            0.0
        }
    }

    /// How far the command opens the valve: one that hangs does not follow.
    fn commanded_purge(&self) -> f64 {
        if self.stands_open() > 0.0 && self.condition.nature.faults.purge_hangs {
            0.0
        } else {
            self.controller.purge
        }
    }

    /// Air through a purge valve that does not shut, as the choked flow against the idle's air.
    fn purged_air(&self) -> f64 {
        self.condition.purge_of_idle_fuel * self.condition.nature.faults.purge_air
    }

    /// Supply of a bank when the purge flow holds `vapour` times its stated size.
    pub(super) fn supply(
        &self,
        bank: usize,
        asked: f64,
        at: Point,
        wander: &Wander,
        vapour: f64,
    ) -> Supply {
        let flow_per_litre = self.per_litre(at.air).max(0.2);
        let vacuum = air::nozzle(at.manifold_ratio);
        let physics = &self.condition.nature.faults;
        // its size is what the injectors need not give: where the air with it is not metered, that much more vapour
        let stuck = self.condition.purge_of_idle_fuel
            + match self.spec.air_metering {
                AirMetering::Maf => self.purged_air(),
                AirMetering::Map => 0.0,
            };
        let commanded = self.commanded_purge() * self.vapour;
        Supply {
            asked,
            flow_per_litre,
            charge: at.air / at.rpm.max(100.0) / (self.idle_air / self.spec.idle_rpm),
            wander: self.condition.curve.at(flow_per_litre) + wander.at(bank, flow_per_litre),
            dripping: match physics.drip_power {
                0.0 => 1.0,
                power => vacuum.powf(power),
            },
            purge: vacuum.powf(physics.purge_power) * (stuck + commanded) * vapour,
        }
    }

    /// What the controller takes the air to be: the flow through the meter, or speed-density from the manifold
    /// pressure, which sees leaked air too.
    pub(super) fn metered(&self, through_throttle: f64, into_cylinders: f64) -> f64 {
        let air = match self.spec.air_metering {
            AirMetering::Maf => through_throttle,
            AirMetering::Map => into_cylinders,
        };
        air * self.maf_factor(air)
    }

    /// Ratio of the MAF sensor's reading to the truth at a flow: its age and its fault, both of which may vary with the
    /// flow.
    pub(super) fn maf_factor(&self, air: f64) -> f64 {
        let Condition {
            nature,
            maf_gain,
            maf_age,
            ..
        } = &self.condition;
        let along = (self.per_litre(air).max(0.2) / CRUISE_FLOW).ln();
        let fault = (maf_gain - 1.0) * (1.0 + nature.faults.maf_growth * along).clamp(-0.5, 2.0);
        (1.0 + fault) * (maf_age + nature.parts.maf_slope * along)
    }

    /// The leak as the choked flow through it, g/s: its gap may close as the vacuum fades. A purge valve that does not shut
    /// lets air in too.
    pub(super) fn leak_opening(&self, manifold_ratio: f64) -> f64 {
        let physics = &self.condition.nature.faults;
        let through = |share: f64, power: f64| {
            if share > 0.0 {
                share * self.idle_air * air::nozzle(manifold_ratio).max(0.02).powf(power - 1.0)
            } else {
                0.0
            }
        };
        through(self.condition.leak_of_idle_air, physics.leak_power)
            + through(self.purged_air(), physics.purge_power)
    }

    pub(super) fn idle_fuel(&self) -> f64 {
        self.idle_air / self.spec.cylinder_count() as f64
    }

    pub(super) fn inputs(
        &self,
        index: usize,
        bank: &BankCondition,
        situation: Situation,
    ) -> Inputs {
        let share = bank.cylinders.len() as f64 / self.spec.cylinder_count() as f64;
        let asked = self.measured_air * share / self.controller.lambda;
        let film_share = match self.spec.injection {
            Injection::Port => 0.06 + 0.12 * self.cold(),
            Injection::Direct => 0.01 + 0.03 * self.cold(),
        };
        let point = Point {
            air: self.air,
            rpm: self.rpm,
            manifold_ratio: situation.manifold_ratio,
        };
        Inputs {
            air: self.bank_air(bank, self.air, self.manifold.leak_flow),
            supply: self.supply(index, asked, point, &self.wander, self.canister.vapour()),
            rpm: self.rpm,
            load: self.air / self.pump().wide_open_flow(self.rpm),
            false_air: self.exhaust_leak_factor(bank, self.air) * (1.0 + bank.sensor_bias),
            idle_fuel: self.idle_fuel(),
            mode: self.controller.mode,
            fuel_cut: self.controller.fuel_cut,
            region: trims::region(self.rpm, situation.manifold_ratio, situation.idle),
            learns: self.coolant_c > 65.0,
            delay_s: 0.06 + 0.34 * (self.idle_air / self.air.max(0.1)).min(1.3),
            film: (film_share, 0.3 + 1.0 * self.cold()),
        }
    }
}
