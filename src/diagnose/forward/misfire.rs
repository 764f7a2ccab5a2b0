//! What misfires do, whatever their cause, and misfires without a pattern.
//!
//! A charge that does not burn leaves its oxygen in the exhaust; the sensor takes that for a lean
//! mixture and the bank's correction goes up. How much of the oxygen the sensor sees after unburned
//! fuel has used up its part is uncertain: the trade's texts speak for a rise of about 1/n for one
//! dead cylinder of n, one test column doubts it.

use super::{BANKS, Engine, Place, Prediction, REGIONS, Variant};

/// Share of a misfired charge's oxygen that the sensor takes for lean.
pub const OXYGEN_SEEN: &[Variant] = &[(0.3, 0.25), (0.7, 0.75)];
/// Where one value must do.
pub const USUAL_OXYGEN_SEEN: f64 = 0.7;
/// Most oxygen of a bank that is reckoned with, as a share.
const MOST_OXYGEN: f64 = 0.9;

/// Every cylinder fails now and then, wherever the engine is run.
pub fn random(failing: f64, oxygen_seen: f64, engine: Engine<'_>) -> Prediction {
    let oxygen = -(1.0 - (oxygen_seen * failing).min(MOST_OXYGEN)).ln();
    Prediction {
        misfire_oxygen: engine.each(|_, _| oxygen),
        failing: engine.by_region(|_| failing),
        failing_beside: engine.by_region(|_| failing),
        failing_elsewhere: engine.by_region(|_| failing),
        ..Prediction::default()
    }
}

impl Prediction {
    /// Adds the oxygen that failing cylinders leave in the bank meant.
    pub(super) fn with_oxygen(mut self, place: Place, engine: Engine<'_>, seen: f64) -> Self {
        let failing = self.failing.into_iter().zip(self.failing_beside);
        let mut oxygen = [[0.0; REGIONS]; BANKS];
        for (bank, regions) in oxygen.iter_mut().take(engine.banks).enumerate() {
            if place.bank.is_some_and(|meant| meant != bank) {
                continue;
            }
            let cylinders = engine.setting.of_bank(bank);
            for (y, (own, beside)) in regions.iter_mut().zip(failing.clone()) {
                let share = seen * (own + (cylinders - 1.0) * beside) / cylinders;
                *y = -(1.0 - share.min(MOST_OXYGEN)).ln();
            }
        }
        self.misfire_oxygen = oxygen;
        self
    }
}

/// The logistic function.
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}
