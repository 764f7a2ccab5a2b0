//! Readings that are impossible: outside physics, jumping, or stuck while everything else moves.

use crate::series::timeline::{
    moment::{Moment, Window},
    quantity::Quantity,
};

use Quantity as Q;

/// Lowest and highest value of each quantity on a running petrol engine; generous, to catch only broken wires and
/// placeholders.
const LIMITS: [(Quantity, f64, f64); 5] = [
    (Q::EngineSpeed, 0.0, 12_000.0),
    (Q::VehicleSpeed, 0.0, 350.0),
    (Q::Load, 0.0, 100.0),
    (Q::ManifoldPressure, 5.0, 350.0),
    (Q::AirFlow, 0.0, 650.0),
];

/// Largest change from one second to the next that a car can make.
const JUMPS: [(Quantity, f64); 2] = [(Q::EngineSpeed, 7000.0), (Q::VehicleSpeed, 70.0)];

/// A placeholder for a trim that the car does not have, percent (SAE J1979: raw byte 0).
pub const TRIM_PLACEHOLDER_PCT: f64 = -100.0;

/// Quantities that never stay constant to the bit on a running engine while its operation changes.
const WATCHED: [Quantity; 4] = [Q::EngineSpeed, Q::Load, Q::ShortTrim1, Q::ShortTrim2];

/// Changes of operation: more than this much of any of these quantities.
const MOVERS: [(Quantity, f64); 3] = [
    (Q::EngineSpeed, 1000.0),
    (Q::Load, 20.0),
    (Q::VehicleSpeed, 20.0),
];

/// Seconds after which a value that stays the same to the bit, though others have moved, is stuck (assumed).
const STUCK_S: u32 = 60;

/// Watches for readings that cannot be.
#[derive(Debug, Clone, Default)]
pub struct Plausibility {
    watched: [Standstill; WATCHED.len()],
}

/// How far operation moved since one quantity became constant, and for how long it has not followed.
#[derive(Debug, Clone, Default)]
struct Standstill {
    value: Option<f64>,
    seconds: u32,
    ranges: [Option<(f64, f64)>; MOVERS.len()],
}

impl Plausibility {
    /// Takes a moment with the engine running; returns true when a value in it is impossible.
    pub fn is_implausible(&mut self, window: &Window<'_>) -> bool {
        let stuck = self.is_stuck(window.now);
        stuck || is_outside(window.now) || is_jumping(window)
    }

    fn is_stuck(&mut self, moment: &Moment) -> bool {
        let movers = MOVERS.map(|(quantity, _)| moment.get(quantity));
        let mut stuck = false;
        for (standstill, quantity) in self.watched.iter_mut().zip(WATCHED) {
            stuck |= standstill.is_stuck(moment.get(quantity), &movers);
        }
        stuck
    }
}

impl Standstill {
    fn is_stuck(&mut self, value: Option<f64>, movers: &[Option<f64>; MOVERS.len()]) -> bool {
        // 0 is a resting place, not a broken sensor
        if value.is_none_or(|value| value == 0.0) || value != self.value {
            *self = Self {
                value,
                ..Self::default()
            };
        }
        let mut moved = false;
        for ((range, value), (_, much)) in self.ranges.iter_mut().zip(movers).zip(MOVERS) {
            let Some(value) = *value else { continue };
            let (low, high) = range.unwrap_or((value, value));
            let (low, high) = (low.min(value), high.max(value));
            *range = Some((low, high));
            moved |= high - low > much;
        }
        self.seconds += u32::from(moved);
        self.seconds > STUCK_S
    }
}

fn is_outside(moment: &Moment) -> bool {
    LIMITS.into_iter().any(|(quantity, low, high)| {
        moment
            .get(quantity)
            .is_some_and(|value| !(low..=high).contains(&value))
    })
}

fn is_jumping(window: &Window<'_>) -> bool {
    let Some(before) = window.before() else {
        return false;
    };
    JUMPS.into_iter().any(|(quantity, most)| {
        match (window.now.get(quantity), before.get(quantity)) {
            (Some(now), Some(before)) => (now - before).abs() > most,
            _ => false,
        }
    })
}
