//! The highest load that the engine reported at full throttle.
//!
//! Calculated load (PID 04) is the metered air flow over the greatest one at that speed, at any altitude and
//! temperature, so that a sound engine reports about 100 % with the throttle wide open (SAE J1979, from memory).

use crate::series::{
    label::Label,
    timeline::{moment::Moment, quantity::Quantity},
};

/// Throttle position from which the throttle counts as wide open, percent (PID 11 seldom reports 100; common practice).
const WIDE_OPEN_PCT: f64 = 75.0;
/// Load from which a warm engine that leaves closed loop is at full load, percent: below, it coasts (assumed).
const ENRICHED_FROM_PCT: f64 = 50.0;
/// Engine speed below which no controller enriches for power, rpm (common practice).
const LEAST_RPM: f64 = 1200.0;

/// Keeps the highest load that two consecutive seconds reached.
#[derive(Debug, Clone, Default)]
pub struct FullLoad {
    before_pct: Option<f64>,
    highest_pct: Option<f64>,
}

impl FullLoad {
    /// Takes a moment.
    pub fn push(&mut self, moment: &Moment, label: Label) {
        let now = asked_for_all(moment, label).then(|| moment.get(Quantity::Load));
        let held = self.before_pct.zip(now.flatten());
        let held = held.map(|(before, now)| before.min(now));
        self.highest_pct = [self.highest_pct, held]
            .into_iter()
            .flatten()
            .reduce(f64::max);
        self.before_pct = now.flatten();
    }

    /// The highest load so far, percent; `None` where the engine was never at full throttle.
    pub const fn highest_pct(&self) -> Option<f64> {
        self.highest_pct
    }
}

fn asked_for_all(moment: &Moment, label: Label) -> bool {
    let above = |quantity, least: f64| moment.get(quantity).is_some_and(|value| value >= least);
    if !above(Quantity::EngineSpeed, LEAST_RPM) {
        return false;
    }
    match label {
        Label::OpenLoop => above(Quantity::Load, ENRICHED_FROM_PCT),
        Label::Used | Label::Transient => above(Quantity::Throttle, WIDE_OPEN_PCT),
        _ => false,
    }
}
