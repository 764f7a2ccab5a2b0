//! Effects of misfires, whatever their cause, and misfires without a pattern.
//!
//! A charge that does not burn leaves its oxygen in the exhaust; the sensor reads that as lean and the bank's fuel trim
//! rises. How much of the oxygen the sensor sees after the unburned fuel has used up its part is uncertain: trade texts
//! state a rise of about 1/n for one dead cylinder of n, one test column doubts it.

use crate::{bank::Bank, series::label::region::ByRegion};

use super::{
    Assumed, EngineModel, FailingKnown, Location, Model, Prediction, TrimEffect, Variant,
    model::each,
};

/// Share of a misfired charge's oxygen that the sensor reads as lean, 0 to 1, with probabilities. Trade articles of
/// 2000 and 2011 put the effect of one dead cylinder of n at about 1/n, that is nearly all of the oxygen; the 2011
/// column doubts it, as the unburned fuel may use up all of the oxygen at a hot sensor. The values and probabilities
/// are assumed; the odds of ignition and compression faults against injectors depend on them.
pub const OXYGEN_SEEN: &Assumed<f64> = &[(0.6, 0.75), (0.25, 0.25), (0.15, 0.0)];
/// Share of a misfired charge's oxygen that the sensor reads as lean, 0 to 1, in two steps for causes whose fuel
/// dominates the trim: the lower step is the mean of the two lower ones of [`OXYGEN_SEEN`].
pub const OXYGEN_SEEN_OF_FEW: &Assumed<f64> = &[(0.6, 0.75), (0.4, 0.15)];
/// Share of a misfired charge's oxygen that the sensor reads as lean, 0 to 1, where a single value must do (assumed:
/// near the most probable one of [`OXYGEN_SEEN`]).
pub const USUAL_OXYGEN_SEEN: f64 = 0.7;
/// Largest share of a bank's oxygen that is considered unburned, 0 to 1 (assumed; it keeps the logarithm finite).
const MOST_OXYGEN: f64 = 0.9;

/// Every cylinder misfires now and then, wherever the engine runs. Wet plugs and lean mixtures misfire more at idle, worn
/// ignition coils more under load (common practice), but to assume either for some cars has earned nothing.
#[derive(Debug)]
struct Random {
    oxygen_seen: f64,
}

/// Variants of misfires without a pattern.
pub fn random() -> Vec<Variant> {
    each(OXYGEN_SEEN_OF_FEW, |oxygen_seen| Random { oxygen_seen })
}

impl Model for Random {
    fn on_the_road(
        &self,
        _location: Location,
        failing: f64,
        engine: EngineModel<'_>,
    ) -> Prediction {
        let failing = failing.min(1.0);
        let seen = (self.oxygen_seen * failing).min(MOST_OXYGEN);
        let failing = engine.by_region(|_| failing);
        Prediction {
            misfire_oxygen: engine.each(|_, _| -(1.0 - seen).ln()),
            failing,
            failing_others: failing,
            failing_elsewhere: failing,
            failing_known: FailingKnown::Alike,
            ..Prediction::default()
        }
    }
}

impl Prediction {
    /// Adds the oxygen that failing cylinders leave in the place's bank.
    pub(super) fn with_oxygen(
        mut self,
        location: Location,
        engine: EngineModel<'_>,
        seen: f64,
    ) -> Self {
        let mut oxygen = TrimEffect::default();
        let meant = |bank: &Bank| location.bank.is_none_or(|meant| meant == *bank);
        for bank in engine.banks().filter(meant) {
            let cylinders = engine.config.cylinders_of(bank);
            oxygen[bank] = self.failing.map(|region, own| {
                let others = self.failing_others[region];
                let share = seen * (own + (cylinders - 1.0) * others) / cylinders;
                -(1.0 - share.min(MOST_OXYGEN)).ln()
            });
        }
        self.misfire_oxygen = oxygen;
        self
    }
}

/// Lambda (air–fuel ratio over stoichiometric) at which a cylinder whose controller cannot add more fuel misfires as
/// often as not (assumed; compare the lean limits of the injectors): at 1.1 no sound engine misfires.
const LEAN_LIMIT: f64 = 1.38;
/// Width of the logistic curve around that lean limit, in lambda (assumed).
const LEAN_WIDTH: f64 = 0.03;

impl Prediction {
    /// Adds the misfires of mixtures that saturated trims leave lean; `lacking` is the logarithm of the missing fuel by
    /// bank and region.
    pub fn lean_misfires(mut self, location: Location, lacking: &TrimEffect) -> Self {
        let share = |lacking: f64| {
            if lacking > 0.0 {
                logistic((lacking.exp() - LEAN_LIMIT) / LEAN_WIDTH)
            } else {
                0.0
            }
        };
        let add = |failing: &mut ByRegion<f64>, lacking: &ByRegion<f64>| {
            for (region, failing) in failing {
                *failing = failing.max(share(lacking[region]));
            }
        };
        for (bank, lacking) in lacking {
            match location.bank {
                Some(meant) if meant != bank => add(&mut self.failing_elsewhere, lacking),
                _ => {
                    add(&mut self.failing, lacking);
                    let before = self.failing_others;
                    add(&mut self.failing_others, lacking);
                    if self.failing_others != before {
                        // what all lack spares none
                        self.spared_others = 0.0;
                    }
                }
            }
        }
        self
    }
}

/// The logistic function, 0 to 1.
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}
