//! What earlier trips left behind: learned long trims and usual counts of misfires.

use super::{
    air,
    condition::BankCondition,
    fuel,
    machine::Engine,
    misfire::{self, Charge},
    sharing::Point,
    trims::{self, BankTrims},
    wander::Wander,
};

/// Firings of one cylinder at idle, and as many at cruise, in a usual driving cycle.
const TYPICAL_FIRINGS: f64 = 4000.0;

impl Engine {
    /// Fills the long trims with what earlier trips of the same car under `wander` will have learned.
    pub(super) fn recall(&mut self, wander: &Wander) {
        let mut learned = Vec::new();
        for (index, bank) in self.condition.banks.iter().enumerate() {
            let at = |rpm, filling| self.settled_correction(index, bank, rpm, filling, wander);
            let idle = self
                .pump()
                .pressure_for_flow(self.spec.idle_rpm, self.idle_air);
            learned.push([
                at(self.spec.idle_rpm, idle / self.barometer_kpa),
                at(2200.0, 0.30),
                at(1900.0, 0.50),
                at(2300.0, 0.72),
            ]);
        }
        for (bank, long) in self.banks.iter_mut().zip(learned) {
            bank.trims = BankTrims::learned(long);
        }
    }

    /// The correction on which a bank settles at a steady point, inside the stops.
    fn settled_correction(
        &self,
        index: usize,
        bank: &BankCondition,
        rpm: f64,
        filling: f64,
        wander: &Wander,
    ) -> f64 {
        let air = self.pump().flow(rpm, filling * self.barometer_kpa);
        let leak = self.condition.leak_of_idle_air * self.idle_air * air::nozzle(filling);
        let share = bank.cylinders.len() as f64 / self.spec.cylinder_count() as f64;
        let asked = self.metered(air - leak, air) * share;
        let point = Point { air, rpm, filling };
        let supply = self.supply(index, asked, point, wander);
        let fuel: f64 = fuel::to_cylinders(&self.condition, bank, supply, self.idle_fuel()).sum();
        let need = self.bank_air(bank, air, leak) * self.exhaust_leak_factor(bank, air);
        (need / fuel.max(1e-6) - 1.0).clamp(-trims::STOP, trims::STOP)
    }

    /// Misfires of a cylinder that a usual driving cycle of this car will have counted: a few thousand firings at
    /// idle and as many at cruise, with the corrections that have been learned.
    pub fn typical_misfires(&self, number: u8) -> f64 {
        let banks = self.condition.banks.iter();
        let own = banks
            .flat_map(|bank| bank.cylinders.iter().map(move |cylinder| (bank, cylinder)))
            .find(|(_, cylinder)| cylinder.number == number);
        own.map_or(0.0, |(bank, cylinder)| {
            let lambda = bank.mean_injector_flow() / cylinder.injector_flow.max(1e-3);
            let at = |load, rpm| misfire::mean_probability(cylinder, Charge { lambda, load, rpm });
            TYPICAL_FIRINGS * (at(0.25, self.spec.idle_rpm) + at(0.45, 2000.0))
        })
    }

    /// Forgets long trims, as after clearing codes.
    pub fn clear_trims(&mut self) {
        self.banks.iter_mut().for_each(|bank| bank.trims.clear());
    }
}
