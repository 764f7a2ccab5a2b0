//! Injectors: restricted, dead, dripping.
//!
//! A restricted injector gives less fuel at every opening, so its bank needs −ln(mean flow) everywhere. The controller
//! brings the bank's mean right; the restricted cylinder stays lean by mean flow over own flow and begins to misfire
//! where a lean charge burns worst: at idle and light load.

use super::{Engine, Place, Point, Prediction, Variant, misfire};

/// Lean limits at idle, as air over fuel: a sound cylinder misfires beyond 1.2 to 1.5 (Heywood, *Internal Combustion
/// Engine Fundamentals*, from memory; common practice has it near the lower end for a cold or worn engine).
pub const LEAN_LIMITS: &[Variant] = &[(0.25, 1.22), (0.40, 1.32), (0.35, 1.42)];
/// How much leaner a full charge still burns, and how sharp the limit is.
const LIMIT_RISE: f64 = 0.2;
const LIMIT_WIDTH: f64 = 0.04;
/// A cylinder this rich (air over fuel) begins to misfire (common practice), and how sharp that limit is.
const RICH_LIMIT: f64 = 0.55;
const RICH_WIDTH: f64 = 0.04;
/// Smallest share of fuel that is reckoned with.
const LEAST_FLOW: f64 = 0.02;

/// One injector gives `loss` less.
pub fn restricted(place: Place, loss: f64, lean_limit: f64, engine: Engine<'_>) -> Prediction {
    let flow = (1.0 - loss).max(LEAST_FLOW);
    let bank_cylinders = place.bank.map_or(4.0, |bank| engine.setting.of_bank(bank));
    let mean = 1.0 - loss / bank_cylinders;
    let failing = engine.by_region(|point| lean_failing(mean / flow, lean_limit, point));
    Prediction {
        mixture: engine.at(place, |bank, _| mean_flow_correction(loss, engine, bank)),
        failing,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, misfire::USUAL_OXYGEN_SEEN * flow / mean)
}

/// All injectors of a bank (or of all banks) give `loss` less on average.
pub fn several(place: Place, loss: f64, engine: Engine<'_>) -> Prediction {
    Prediction {
        mixture: engine.at(place, |_, _| -(1.0 - loss).ln()),
        ..Prediction::default()
    }
}

/// One injector gives nothing: its cylinder never fires, its air passes unburned.
pub fn dead(place: Place, engine: Engine<'_>) -> Prediction {
    Prediction {
        mixture: engine.at(place, |bank, _| mean_flow_correction(1.0, engine, bank)),
        failing: engine.by_region(|_| 1.0),
        ..Prediction::default()
    }
}

/// One injector drips, `drip` against its cylinder's fuel at warm idle: the same every second, so worst at idle.
pub fn leaking(place: Place, drip: f64, engine: Engine<'_>) -> Prediction {
    let excess = |point: &Point| drip * engine.idle().air / point.air.max(0.1);
    Prediction {
        mixture: engine.at(place, |bank, point| {
            -(excess(point) / engine.setting.of_bank(bank)).ln_1p()
        }),
        failing: engine.by_region(|point| {
            let lambda = 1.0 / (1.0 + excess(point));
            misfire::logistic((RICH_LIMIT - lambda) / RICH_WIDTH)
        }),
        ..Prediction::default()
    }
}

fn mean_flow_correction(loss: f64, engine: Engine<'_>, bank: usize) -> f64 {
    let mean = 1.0 - loss / engine.setting.of_bank(bank);
    -mean.max(LEAST_FLOW).ln()
}

/// Share of firings that fail with `lambda` (air over fuel).
fn lean_failing(lambda: f64, lean_limit: f64, point: &Point) -> f64 {
    let load = ((point.filling - 0.3) / 0.5).clamp(0.0, 1.0);
    misfire::logistic((lambda - lean_limit - LIMIT_RISE * load) / LIMIT_WIDTH)
}
