//! Where an engine settles at steady points of operation, by sums instead of steps: what earlier trips have learned,
//! and what a fault truly does.

use super::{
    condition::BankCondition,
    fuel,
    machine::Engine,
    misfire::{self, Charge},
    sharing::Point,
    wander::Wander,
};

/// Number of operating points: warm idle, 2500 rpm without load, light cruise, loaded.
pub const POINTS: usize = 4;

/// What a settled engine shows at the points of operation.
#[derive(Debug, Clone, PartialEq)]
pub struct Steady {
    /// Natural logarithm of the total fuel trim needed, bank by bank; no limit bounds it.
    pub fuel_trims: Vec<[f64; POINTS]>,
    /// Share of firings that fail, by cylinder number.
    pub failing: Vec<(u8, [f64; POINTS])>,
}

/// One bank at one point.
pub(super) struct Settled {
    /// Fuel needed as a ratio to the fuel delivered without any trim.
    pub fuel_trim: f64,
    /// Share of firings that fail, cylinder by cylinder.
    pub failing: Vec<f64>,
}

impl Engine {
    /// Engine speed and filling at the points of operation.
    pub(super) fn points(&self) -> [(f64, f64); POINTS] {
        let pump = self.pump();
        let idle = pump.pressure_for_flow(self.spec.idle_rpm, self.idle_air);
        [
            (self.spec.idle_rpm, idle / self.barometer_kpa),
            (2300.0, 0.30),
            (1900.0, 0.50),
            (2300.0, 0.75),
        ]
    }

    /// What each injector gives while it is held open, against nominal, by cylinder number.
    pub fn injector_flows(&self) -> Vec<(u8, f64)> {
        let banks = self.condition.banks.iter();
        let cylinders = banks.flat_map(|bank| &bank.cylinders);
        cylinders
            .map(|cylinder| (cylinder.number, cylinder.flow(1.0)))
            .collect()
    }

    /// What it settles at without any wander.
    pub fn steady(&self) -> Steady {
        let wander = Wander::none(self.banks.len());
        let points = self.points();
        let mut steady = Steady {
            fuel_trims: Vec::new(),
            failing: Vec::new(),
        };
        for (index, bank) in self.condition.banks.iter().enumerate() {
            let at = points.map(|(rpm, manifold_ratio)| {
                self.settled(index, bank, rpm, manifold_ratio, &wander)
            });
            steady
                .fuel_trims
                .push(at.each_ref().map(|settled| settled.fuel_trim.ln()));
            for (place, cylinder) in bank.cylinders.iter().enumerate() {
                let failing = |settled: &Settled| settled.failing.get(place).copied();
                let failing = at.each_ref().map(|settled| failing(settled).unwrap_or(0.0));
                steady.failing.push((cylinder.number, failing));
            }
        }
        steady
    }

    /// Where a bank settles at a steady point. What misfires leave unburnt asks for fuel as well.
    pub(super) fn settled(
        &self,
        index: usize,
        bank: &BankCondition,
        rpm: f64,
        manifold_ratio: f64,
        wander: &Wander,
    ) -> Settled {
        let air = self.pump().flow(rpm, manifold_ratio * self.barometer_kpa);
        let leak = self.leak_opening(manifold_ratio) * super::air::nozzle(manifold_ratio);
        let share = bank.cylinders.len() as f64 / self.spec.cylinder_count() as f64;
        let asked = self.metered(air - leak, air) * share;
        let point = Point {
            air,
            rpm,
            manifold_ratio,
        };
        let vapour = self.condition.nature.canister.on_average;
        let supply = self.supply(index, asked, point, wander, vapour);
        let fuels: Vec<f64> =
            fuel::to_cylinders(&self.condition, bank, supply, self.idle_fuel()).collect();
        let fuel = fuels.iter().sum::<f64>().max(1e-6);
        let breathed = self.bank_air(bank, air, leak);
        let need = breathed * self.exhaust_leak_factor(bank, air) * (1.0 + bank.sensor_bias);
        let fuel_trim = need / fuel;
        let each_air = breathed / bank.cylinders.len() as f64;
        let load = air / self.pump().wide_open_flow(rpm);
        let failing = bank.cylinders.iter().zip(&fuels).map(|(cylinder, fuel)| {
            let lambda = each_air / (fuel * fuel_trim).max(1e-9);
            let charge = Charge { lambda, load, rpm };
            misfire::mean_probability(cylinder, charge, &self.condition.nature)
        });
        let failing: Vec<f64> = failing.collect();
        let missed = failing.iter().zip(&fuels).map(|(share, fuel)| share * fuel);
        let missed = missed.sum::<f64>() / fuel;
        let left = 1.0 - self.condition.nature.faults.burnt_at_sensor;
        Settled {
            fuel_trim: fuel_trim / (1.0 - left * missed).max(0.05),
            failing,
        }
    }
}
