//! Readings that cannot be: outside physics, jumping, or stuck while everything else moves.

use super::{
    moment::{Moment, Window},
    quantity::Quantity,
};

use Quantity as Q;

/// What each quantity can be on a running petrol engine; generous, to catch broken wires and placeholders only.
const LIMITS: [(Quantity, f64, f64); 5] = [
    (Q::EngineSpeed, 0.0, 12_000.0),
    (Q::VehicleSpeed, 0.0, 350.0),
    (Q::Load, 0.0, 100.0),
    (Q::ManifoldPressure, 5.0, 350.0),
    (Q::AirFlow, 0.0, 650.0),
];

/// Change from one second to the next that no car makes.
const JUMPS: [(Quantity, f64); 2] = [(Q::EngineSpeed, 7000.0), (Q::VehicleSpeed, 70.0)];

/// A placeholder for a trim that the car does not have, percent (SAE J1979: raw byte 0).
pub const TRIM_PLACEHOLDER_PCT: f64 = -100.0;

/// Quantities that never stand still on a running engine while others move, and the share of their range that counts
/// as moving for the others.
const WATCHED: [(Quantity, f64); 4] = [
    (Q::EngineSpeed, 1000.0),
    (Q::Load, 20.0),
    (Q::VehicleSpeed, 20.0),
    (Q::ShortTrim1, f64::INFINITY),
];

/// A value that stays the same to the bit for so many seconds may be stuck.
const STUCK_S: u32 = 60;

/// Watches for readings that cannot be.
#[derive(Debug, Clone)]
pub struct Plausibility {
    watched: [Standstill; WATCHED.len()],
}

/// How long one quantity has stood still, and how far the others went meanwhile.
#[derive(Debug, Clone, Default)]
struct Standstill {
    value: Option<f64>,
    seconds: u32,
    others: [Option<(f64, f64)>; WATCHED.len()],
}

impl Plausibility {
    /// Nothing seen yet.
    pub fn new() -> Self {
        Self {
            watched: Default::default(),
        }
    }

    /// Takes a moment in which the engine runs; true when something in it cannot be.
    pub fn is_implausible(&mut self, window: &Window<'_>) -> bool {
        let stuck = self.is_stuck(window.now);
        stuck || is_outside(window.now) || is_jumping(window)
    }

    fn is_stuck(&mut self, moment: &Moment) -> bool {
        let values = WATCHED.map(|(quantity, _)| moment.get(quantity));
        let mut stuck = false;
        for (index, standstill) in self.watched.iter_mut().enumerate() {
            stuck |= standstill.is_stuck(index, &values);
        }
        stuck
    }
}

impl Standstill {
    fn is_stuck(&mut self, own: usize, values: &[Option<f64>; WATCHED.len()]) -> bool {
        let value = values.get(own).copied().flatten();
        // 0 is a resting place of speeds and trims, not a broken sensor
        if value.is_none_or(|value| value == 0.0) || value != self.value {
            *self = Self {
                value,
                ..Self::default()
            };
        }
        self.seconds += 1;
        let mut moved = false;
        let ranges = self.others.iter_mut().zip(values).zip(WATCHED).enumerate();
        for (index, ((range, value), (_, much))) in ranges {
            let Some(value) = value.filter(|_| index != own) else {
                continue;
            };
            let (low, high) = range.unwrap_or((value, value));
            *range = Some((low.min(value), high.max(value)));
            moved |= high - low > much;
        }
        moved && self.seconds > STUCK_S
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
