//! Whether the fuel differs between captures that are compared: how many tanks of fuel they span, and how much of their
//! fuel can be new at most.

use crate::series::{
    summary::Summary,
    tank::{SWING, in_order, most_added, was_refuelled},
};

/// Whether the captures of a side, in order, span several tanks of fuel.
pub fn on_several(side: &[&Summary]) -> bool {
    let neighbours = side.iter().zip(side.iter().skip(1));
    let mut filled = neighbours.map(|(earlier, later)| was_refuelled(earlier, later));
    filled.any(|filled| filled)
}

/// The largest share of the tank that can be new to any capture against any other, 0 to 1; 1 where any capture does not
/// report it.
pub fn most_new(sides: [&[Summary]; 2]) -> f64 {
    if sides.iter().any(|side| side.is_empty()) {
        return 1.0;
    }
    let chain: Vec<&Summary> = sides.into_iter().flat_map(in_order).collect();
    let (mut filled, mut lowest) = (0.0, 100.0_f64);
    for (earlier, later) in chain.iter().zip(chain.iter().skip(1)) {
        let (Some(most), Some((start, end))) =
            (most_added(earlier, later), later.facts.fuel_level_pct)
        else {
            return 1.0;
        };
        filled += most;
        lowest = lowest.min(start).min(end);
    }
    // the swings of several readings seldom all point the same way
    let swing = SWING * (chain.len() as f64 - 1.0).max(1.0).sqrt();
    ((filled + swing) / lowest.max(1.0)).min(1.0)
}
