//! What misfires do, whatever their cause, and misfires without a pattern.
//!
//! A charge that does not burn leaves its oxygen in the exhaust; the sensor takes that for a lean
//! mixture and the bank's correction goes up. How much of the oxygen the sensor sees after unburned
//! fuel has used up its part is uncertain: the trade's texts speak for a rise of about 1/n for one
//! dead cylinder of n, one test column doubts it.

use crate::bank::Bank;
use crate::series::label::region::ByRegion;

use super::{
    Assumed, Engine, FailingKnown, Model, Place, Point, Prediction, TrimEffect, Variant,
    model::both,
};

/// Where misfires without a pattern lean to: everywhere alike (0), towards idle and light load
/// (−1), towards load (1); exponent of the filling. Wet plugs and thin mixtures do the one, tired
/// coils the other (common practice).
const LEANINGS: &Assumed<f64> = &[(0.5, 0.0), (0.3, -1.0), (0.2, 1.0)];
/// Filling at which the stated share fails.
const STATED_AT_FILLING: f64 = 0.40;
/// Share of a misfired charge's oxygen that the sensor takes for lean; the unburned fuel beside it may use up all of it at a
/// hot sensor.
pub const OXYGEN_SEEN: &Assumed<f64> = &[(0.6, 0.75), (0.25, 0.25), (0.15, 0.0)];
/// The same in two steps, where the fuel itself does most.
pub const OXYGEN_SEEN_OF_FEW: &Assumed<f64> = &[(0.6, 0.75), (0.4, 0.15)];
/// Where one value must do.
pub const USUAL_OXYGEN_SEEN: f64 = 0.7;
/// Most oxygen of a bank that is reckoned with, as a share.
const MOST_OXYGEN: f64 = 0.9;

/// Every cylinder fails now and then.
#[derive(Debug)]
struct Random {
    leaning: f64,
    oxygen_seen: f64,
}

/// Misfires without a pattern.
pub fn random() -> Vec<Variant> {
    both(LEANINGS, OXYGEN_SEEN_OF_FEW, |leaning, oxygen_seen| {
        Random {
            leaning,
            oxygen_seen,
        }
    })
}

impl Model for Random {
    fn on_the_road(&self, _place: Place, failing: f64, engine: Engine<'_>) -> Prediction {
        let share = |point: &Point| {
            let factor = (point.filling / STATED_AT_FILLING).powf(self.leaning);
            (failing * factor).min(1.0)
        };
        let seen = |point: &Point| (self.oxygen_seen * share(point)).min(MOST_OXYGEN);
        let failing = engine.by_region(share);
        Prediction {
            misfire_oxygen: engine.each(|_, point| -(1.0 - seen(point)).ln()),
            failing,
            failing_beside: failing,
            failing_elsewhere: failing,
            failing_known: FailingKnown::Alike,
            ..Prediction::default()
        }
    }
}

impl Prediction {
    /// Adds the oxygen that failing cylinders leave in the bank meant.
    pub(super) fn with_oxygen(mut self, place: Place, engine: Engine<'_>, seen: f64) -> Self {
        let mut oxygen = TrimEffect::default();
        let meant = |bank: &Bank| place.bank.is_none_or(|meant| meant == *bank);
        for bank in engine.banks().filter(meant) {
            let cylinders = engine.setting.of_bank(bank);
            oxygen[bank] = self.failing.map(|region, own| {
                let beside = self.failing_beside[region];
                let share = seen * (own + (cylinders - 1.0) * beside) / cylinders;
                -(1.0 - share.min(MOST_OXYGEN)).ln()
            });
        }
        self.misfire_oxygen = oxygen;
        self
    }
}

/// Mixture, air over fuel, at which a cylinder whose controller cannot give more fuel misfires as
/// often as not, and how gradual that is (see the lean limits of the injectors): at 1.1 no sound engine misfires.
const LEAN_LIMIT: f64 = 1.38;
const LEAN_WIDTH: f64 = 0.03;

impl Prediction {
    /// Adds the misfires of mixtures that trims at their stop leave lean: `lacking` is the logarithm
    /// of the fuel that each bank lacks.
    pub fn left_lean(mut self, place: Place, lacking: &TrimEffect) -> Self {
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
            match place.bank {
                Some(meant) if meant != bank => add(&mut self.failing_elsewhere, lacking),
                _ => {
                    add(&mut self.failing, lacking);
                    let before = self.failing_beside;
                    add(&mut self.failing_beside, lacking);
                    if self.failing_beside != before {
                        // what all lack spares none
                        self.spared_beside = 0.0;
                    }
                }
            }
        }
        self
    }
}

/// The logistic function.
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}
