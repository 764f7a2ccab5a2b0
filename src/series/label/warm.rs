//! Whether the engine is warm: coolant above 70 °C that has stopped rising, or else the time that the engine has been
//! running.
//!
//! Once warm, an engine stays warm until its coolant falls below 70 °C: the swings that a fan causes at idle are no
//! warming up.

use std::collections::VecDeque;

use crate::series::timeline::{moment::Moment, quantity::Quantity};

/// Coolant temperature below which the engine is cold, °C (common practice).
pub const WARM_C: f64 = 70.0;
/// Coolant temperature from which the engine counts as warm without any history, °C (assumed).
const SURELY_WARM_C: f64 = 80.0;
/// Rise within a minute or less that counts as warming up, °C; over longer times in proportion (assumed).
const CLIMB_C: f64 = 2.0;
/// Seconds between coolant values in the history (assumed).
const HISTORY_STEP_S: u64 = 10;
/// Age of a coolant value that the history must reach back to, s, however rarely the coolant is read (assumed).
const HISTORY_S: u64 = 60;
/// Largest age of a coolant value in the history, s (assumed).
const HISTORY_LONGEST_S: u64 = 300;
/// Span of the history from which a lack of rise is accepted, s (assumed).
const HISTORY_ENOUGH_S: u64 = 30;
/// Change between two moments beyond which a coolant sensor is not believed, °C (assumed).
const JUMP_C: f64 = 15.0;
/// Seconds after a jump in which the coolant sensor is not believed (assumed).
const DISTRUST_S: u64 = 60;
/// Seconds of running after which a coolant below 70 °C that does not move at all is stuck (assumed).
const STUCK_S: u64 = 600;
/// Seconds for which the last coolant value still decides where the coolant is read rarely (assumed).
const REMEMBERED_S: u64 = 120;
/// Seconds of running after which an engine without a credible coolant temperature counts as warm (assumed).
pub const WARM_BY_TIME_S: f64 = 600.0;

/// Follows the warming up of one engine.
#[derive(Debug, Clone, Default)]
pub struct WarmUp {
    /// Second and coolant, °C.
    history: VecDeque<(u64, f64)>,
    last: Option<f64>,
    unchanged_s: u64,
    distrust_s: u64,
    running_s: u64,
    warm: bool,
    /// Seconds since a credible coolant value; `None` before the first.
    unknown_s: Option<u64>,
    without_coolant_s: u64,
}

impl WarmUp {
    /// Takes a moment with the engine running and returns whether it is still cold.
    pub fn is_cold(&mut self, moment: &Moment) -> bool {
        self.running_s += 1;
        let coolant = moment.get(Quantity::Coolant);
        if let Some(coolant) = self.credible(coolant) {
            self.unknown_s = Some(0);
            return self.by_coolant(coolant, moment.second);
        }
        self.unknown_s = self.unknown_s.map(|seconds| seconds + 1);
        let remembered = self
            .unknown_s
            .is_some_and(|seconds| seconds <= REMEMBERED_S);
        if coolant.is_none() && remembered {
            return !self.warm;
        }
        self.by_time(moment.get(Quantity::RunTime))
    }

    /// Notes that the engine is at rest: its running time starts anew.
    pub fn engine_off(&mut self) {
        self.running_s = 0;
    }

    /// Whether running time replaced a coolant that was not credible, for at least a minute.
    pub fn lacked_coolant(&self) -> bool {
        self.without_coolant_s >= 60
    }

    /// The coolant temperature if it is credible. A sensor wire that is open or shorted reads −40 or 215 °C, the ends
    /// of the published scaling (SAE J1979, PID 05).
    fn credible(&mut self, coolant: Option<f64>) -> Option<f64> {
        let coolant = coolant?;
        let jumped = self
            .last
            .is_some_and(|last| (coolant - last).abs() > JUMP_C);
        let same = self.last == Some(coolant);
        self.last = Some(coolant);
        self.unchanged_s = if same { self.unchanged_s + 1 } else { 0 };
        self.distrust_s = if jumped {
            DISTRUST_S
        } else {
            self.distrust_s.saturating_sub(1)
        };
        let stuck = coolant < WARM_C && self.unchanged_s > STUCK_S;
        let possible = coolant > -40.0 && coolant < 140.0;
        (possible && !stuck && self.distrust_s == 0).then_some(coolant)
    }

    fn by_coolant(&mut self, coolant: f64, second: u64) -> bool {
        let age = |then: u64| second.saturating_sub(then);
        let latest = self.history.back().map(|(then, _)| age(*then));
        if latest.is_none_or(|age| age >= HISTORY_STEP_S) {
            self.history.push_back((second, coolant));
        }
        let mut ages = self.history.iter().map(|(then, _)| age(*then)).peekable();
        let mut outdated = 0;
        while let Some(oldest) = ages.next() {
            let replaced = ages.peek().is_some_and(|next| *next >= HISTORY_S);
            if !replaced && oldest <= HISTORY_LONGEST_S {
                break;
            }
            outdated += 1;
        }
        self.history.drain(..outdated);
        let climbing = self.history.iter().any(|(then, before)| {
            let minutes = (age(*then) as f64 / HISTORY_S as f64).max(1.0);
            coolant - before >= CLIMB_C * minutes
        });
        let reaches_back = self.history.front().map_or(0, |(then, _)| age(*then));
        let known_long = reaches_back >= HISTORY_ENOUGH_S || coolant >= SURELY_WARM_C;
        self.warm = coolant >= WARM_C && (self.warm || (known_long && !climbing));
        !self.warm
    }

    fn by_time(&mut self, run_time_s: Option<f64>) -> bool {
        self.without_coolant_s += 1;
        let seconds = run_time_s.unwrap_or(0.0).max(self.running_s as f64);
        self.warm |= seconds >= WARM_BY_TIME_S;
        !self.warm
    }
}
