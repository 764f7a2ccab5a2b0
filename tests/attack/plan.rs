//! Which slice comes next: every target gets its share of the time.

use std::time::Duration;

use super::target::TARGETS;

/// How long a slice takes about.
const SLICE: Duration = Duration::from_secs(2);

/// How far the attack on each target is.
#[derive(Debug)]
pub struct Plan {
    targets: Vec<State>,
}

/// How far the attack on a target is.
#[derive(Debug, Clone, Copy, Default)]
struct State {
    /// Whether it is attacked at all.
    wanted: bool,
    /// Number of the next input.
    next: u64,
    /// Time spent on it, with the slices that are under way, s.
    spent_s: f64,
    /// Inputs in a second; 0 until it is known.
    per_second: f64,
    inputs: u64,
    executions: u64,
    /// Time of the slices that are over, s.
    worked_s: f64,
}

/// Inputs by number, to be taken in by one target.
#[derive(Debug, Clone, Copy)]
pub struct Numbers {
    pub target: usize,
    pub from: u64,
    pub until: u64,
}

impl Plan {
    /// A plan for the target of this name, or for all.
    pub fn new(only: Option<&str>) -> Self {
        let state = |name: &str| State {
            wanted: only.is_none_or(|only| only == name),
            ..State::default()
        };
        Self {
            targets: TARGETS.iter().map(|target| state(target.name)).collect(),
        }
    }

    /// The next slice of the targets that wait, or of the others; nothing when none is wanted.
    pub fn next(&mut self, waits: bool) -> Option<Numbers> {
        let wanted = self
            .targets
            .iter_mut()
            .zip(TARGETS)
            .enumerate()
            .filter(|(_, (state, target))| state.wanted && target.waits == waits);
        let due = |state: &State, share: f64| state.spent_s / share;
        let (target, (state, _)) = wanted.min_by(|(_, one), (_, other)| {
            due(one.0, one.1.share).total_cmp(&due(other.0, other.1.share))
        })?;
        let count = (state.per_second * SLICE.as_secs_f64()).max(1.0) as u64;
        let from = state.next;
        state.next += count;
        state.spent_s += SLICE.as_secs_f64();
        Some(Numbers {
            target,
            from,
            until: from + count,
        })
    }

    /// A slice is over, of which so many inputs were taken in.
    pub fn done(&mut self, numbers: Numbers, inputs: u64, executions: u64, took: Duration) {
        let state = &mut self.targets[numbers.target];
        state.inputs += inputs;
        state.executions += executions;
        state.worked_s += took.as_secs_f64();
        state.spent_s += took.as_secs_f64() - SLICE.as_secs_f64();
        state.per_second = inputs as f64 / took.as_secs_f64();
    }

    /// Name, inputs, executions and seconds of each target that was attacked.
    pub fn done_so_far(&self) -> impl Iterator<Item = (&'static str, u64, u64, f64)> {
        let states = self
            .targets
            .iter()
            .zip(TARGETS)
            .filter(|(state, _)| state.wanted);
        states.map(|(state, target)| (target.name, state.inputs, state.executions, state.worked_s))
    }
}
