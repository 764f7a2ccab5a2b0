//! The charcoal canister that takes up the fuel tank's vapours.
//!
//! Air drawn through it carries off what the charcoal holds: much at first, and with every bed volume of air less. One to
//! three litres of charcoal are down to a third after some 30 to 60 bed volumes, and a valve wide open draws some 40 L/min
//! under vacuum (common practice): one to five minutes wide open, an hour at the few percent of a gentle command. What the
//! tank makes meanwhile comes on top.

use super::nature::CanisterNature;

/// One canister on one trip.
#[derive(Debug, Clone, Copy)]
pub struct Canister {
    nature: CanisterNature,
    held: f64,
}

impl Canister {
    /// Filled to `charge` of what such canisters usually hold when the engine is started.
    pub fn filled(nature: CanisterNature, charge: f64) -> Self {
        Self {
            nature,
            held: nature.held * charge,
        }
    }

    /// Vapour in the purge flow as a ratio to its stated size.
    pub fn vapour(&self) -> f64 {
        self.nature.fed + self.held
    }

    /// Draws air through it for `dt` seconds: `open` from 0 to 1, `vacuum` as the share of the choked flow.
    pub fn purge(&mut self, open: f64, vacuum: f64, dt: f64) {
        self.held *= (-open * vacuum * dt / self.nature.empties_s).exp();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: half open for 150 s is one time constant of 75 s wide open; 0.5 + 2 × 1.0 / e.
    #[test]
    fn what_the_charcoal_holds_goes_with_the_air_and_what_the_tank_makes_stays() {
        let nature = CanisterNature {
            fed: 0.5,
            held: 1.0,
            empties_s: 75.0,
            on_average: 1.0,
        };
        let mut canister = Canister::filled(nature, 2.0);
        assert_eq!(canister.vapour(), 2.5);
        for _ in 0..150 {
            canister.purge(0.5, 1.0, 1.0);
        }
        assert!((canister.vapour() - (0.5 + 2.0 / std::f64::consts::E)).abs() < 1e-9);
        canister.purge(1.0, 1.0, 1e6);
        assert_eq!(canister.vapour(), 0.5);
    }
}
