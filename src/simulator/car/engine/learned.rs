//! What earlier trips left behind: learned long trims and usual counts of misfires.

use super::{
    machine::Engine,
    misfire::{self, Charge},
    trims::BankTrims,
    wander::Wander,
};

/// Firings of one cylinder at idle, and as many at cruise, in a usual driving cycle.
const TYPICAL_FIRINGS: f64 = 4000.0;

impl Engine {
    /// Fills the long trims with what earlier trips of the same car under `wander` will have learned.
    pub(super) fn recall(&mut self, wander: &Wander) {
        let trimming = self.condition.nature.trimming;
        let points = self.points();
        let banks = self.condition.banks.iter().enumerate();
        let learned: Vec<_> = banks
            .map(|(index, bank)| {
                points.map(|(rpm, manifold_ratio)| {
                    let settled = self.settled(index, bank, rpm, manifold_ratio, wander);
                    (settled.fuel_trim - 1.0).clamp(-trimming.stop, trimming.stop)
                })
            })
            .collect();
        for (bank, long) in self.banks.iter_mut().zip(learned) {
            bank.trims = BankTrims::learned(long, trimming);
        }
    }

    /// Misfires of a cylinder that a usual driving cycle of this car will have counted: a few thousand firings at
    /// idle and as many at cruise, with the fuel trims that have been learned.
    pub fn typical_misfires(&self, number: u8) -> f64 {
        let banks = self.condition.banks.iter();
        let own = banks
            .flat_map(|bank| bank.cylinders.iter().map(move |cylinder| (bank, cylinder)))
            .find(|(_, cylinder)| cylinder.number == number);
        own.map_or(0.0, |(bank, cylinder)| {
            let lambda = bank.mean_injector_flow() / cylinder.flow(1.0).max(1e-3);
            let at = |load, rpm| {
                let charge = Charge { lambda, load, rpm };
                misfire::mean_probability(cylinder, charge, &self.condition.nature)
            };
            TYPICAL_FIRINGS * (at(0.25, self.spec.idle_rpm) + at(0.45, 2000.0))
        })
    }

    /// Forgets long trims, as after clearing codes.
    pub fn clear_trims(&mut self) {
        self.banks.iter_mut().for_each(|bank| bank.trims.clear());
    }
}
