//! Whether the engine is warm: coolant above 70 °C that has stopped climbing, or else the time it has been running.
//!
//! Once warm, an engine stays warm until its coolant falls below 70 °C: the swings that a fan makes at idle are no
//! warming up.

use std::collections::VecDeque;

use crate::series::{timeline::moment::Moment, timeline::quantity::Quantity};

/// Coolant below this is cold, °C.
pub const WARM_C: f64 = 70.0;
/// Coolant that is this hot when first seen needs no history, °C.
const SURELY_WARM_C: f64 = 80.0;
/// A rise of this much in a minute or less is climbing, °C; over longer times in proportion.
const CLIMB_C: f64 = 2.0;
/// The history holds one coolant value every so many seconds …
const HISTORY_STEP_S: u64 = 10;
/// … back to the last one that is a minute old, however rarely the coolant is asked for …
const HISTORY_S: u64 = 60;
/// … but none older than this.
const HISTORY_LONGEST_S: u64 = 300;
/// When the history reaches so far back a lack of climbing is believed, s.
const HISTORY_ENOUGH_S: u64 = 30;
/// A sensor that changes more between two moments is not believed, °C.
const JUMP_C: f64 = 15.0;
/// For so many seconds after a jump.
const DISTRUST_S: u64 = 60;
/// A coolant below 70 °C that does not move at all for so many seconds of running is stuck.
const STUCK_S: u64 = 600;
/// A coolant asked for more rarely than it is believed still decides for so many seconds.
const REMEMBERED_S: u64 = 120;
/// Without a credible coolant an engine is warm after so many seconds of running.
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
    /// Seconds since a credible coolant.
    unknown_s: Option<u64>,
    without_coolant_s: u64,
}

impl WarmUp {
    /// Takes a moment in which the engine runs and says whether it is still cold.
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

    /// The engine stands: its running time starts anew.
    pub fn engine_off(&mut self) {
        self.running_s = 0;
    }

    /// Whether the time had to be used because no coolant could be believed, for at least a minute.
    pub fn lacked_coolant(&self) -> bool {
        self.without_coolant_s >= 60
    }

    /// The coolant, if it can be one. A sensor wire that is open or shorted reads −40 or 215 °C, the ends of the
    /// published scaling (SAE J1979, PID 05).
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
