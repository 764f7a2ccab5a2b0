//! Injectors: restricted, dead, dripping.
//!
//! A restricted injector gives less fuel at every opening, so its bank needs −ln(mean flow)
//! everywhere. The controller brings the bank's mean right; the restricted cylinder stays lean by
//! mean flow over own flow and begins to misfire where a lean charge burns worst: at idle and light
//! load.

use super::{
    super::healthy, Engine, FailingKnown, Place, Point, Prediction, Unknown, Variant, misfire,
};

/// Lean limits at idle, as air over fuel: a sound cylinder misfires beyond 1.2 to 1.5 (Heywood,
/// *Internal Combustion Engine Fundamentals*, from memory; common practice has it near the lower
/// end for a cold or worn engine).
pub const LEAN_LIMITS: &[Variant] = &[
    (0.17, 1.22),
    (0.24, 1.29),
    (0.27, 1.36),
    (0.20, 1.43),
    (0.12, 1.50),
];
/// How much of the usual rise of the limit by load and speed an engine has: with poor motion of the charge, or burnt gas led
/// back at cruise, it is little better there than at idle (assumed).
pub const LIMIT_RISES: &[Variant] = &[(0.55, 1.0), (0.45, 0.3)];
/// How a drip fades against the engine's fuel: exponent. 1 for the same every second; less where the
/// needle also shuts late or the rail's pressure rises with the load (common practice).
pub const DRIP_FADINGS: &[Variant] = &[(0.5, 1.0), (0.3, 0.7), (0.2, 0.4)];
/// The same in two steps, where more is unknown.
pub const FEW_LEAN_LIMITS: &[Variant] = &[(0.55, 1.29), (0.45, 1.42)];
/// Where one limit must do.
pub const USUAL_LEAN_LIMIT: f64 = 1.35;
/// How much leaner a full charge still burns, and a charge at 2500 rpm, with more motion and less
/// burnt gas left in it than at idle; how sharp the limit is.
const LIMIT_RISE: f64 = 0.2;
const LIMIT_RISE_BY_SPEED: f64 = 0.06;
const LIMIT_WIDTH: f64 = 0.035;
/// A cylinder this rich (air over fuel) begins to misfire (common practice), and how sharp that
/// limit is.
const RICH_LIMIT: f64 = 0.53;
const RICH_WIDTH: f64 = 0.02;
/// The same in three steps: engines with a hot spark or much motion bear more (common practice).
pub const RICH_LIMITS: &[Variant] = &[(0.4, RICH_LIMIT), (0.3, 0.47), (0.3, 0.59)];
/// How much more than the mean the worst of several dirty injectors has lost: dirt is never spread
/// evenly (common practice; a factory's good set may differ by as much as its mean loss), and where some of a
/// set are still clean the worst has lost more than twice the mean.
pub const UNEVENNESS: &[Variant] = &[
    (0.30, 0.2),
    (0.28, 0.4),
    (0.20, 0.6),
    (0.14, 0.8),
    (0.08, 1.2),
];
/// The others beside the worst, as parts of how much more that one has lost than the mean: no two are alike, and none
/// gives more than a clean one.
const UNEVEN_BESIDE: [f64; 3] = [-1.0, -0.3, 0.5];
/// Of these only the last one is leaner than the mean.
const SPARED_BESIDE: f64 = 2.0 / 3.0;
/// Their standard deviation in the same measure.
pub const SPREAD_BESIDE: f64 = 0.6;
/// That of the whole set, the worst included.
const SPREAD_OF_SET: f64 = 0.8;
/// What the dirt of one bank differs by from that of all banks beside its injectors' own: heat, vapours, the order along the
/// rail (assumed, as share of the loss).
const BANKS_APART: f64 = 0.1;
/// Ways to be dead: by its coil, stuck inside, or not driven for its wiring, plug or driver (common practice).
pub const WAYS_TO_DIE: &[Variant] = &[(0.45, BY_ITS_COIL), (0.30, NOT_DRIVEN), (0.25, STUCK)];
pub const BY_ITS_COIL: f64 = 0.0;
pub const NOT_DRIVEN: f64 = 1.0;
pub const STUCK: f64 = 2.0;
/// The trims cannot make the others richer than this, air over fuel: they stop at a third more fuel (common practice: 25 %
/// and 35 % are usual stops), and such a mixture still burns.
const RICHEST_BESIDE: f64 = 0.75;
/// Smallest share of fuel that is reckoned with.
const LEAST_FLOW: f64 = 0.02;

/// One injector gives `loss` less.
pub fn restricted(place: Place, loss: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let flow = (1.0 - loss).max(LEAST_FLOW);
    let mean = 1.0 - loss / engine.cylinders_at(place);
    let beside = mean.max(RICHEST_BESIDE);
    Prediction {
        mixture: engine.at(place, |bank, _| mean_flow_correction(loss, engine, bank)),
        failing: engine
            .by_region(|point| off_mixture_by(mean / flow, unknown.shape, unknown.way, point)),
        failing_beside: engine.by_region(|point| off_mixture(beside, unknown.shape, point)),
        failing_known: FailingKnown::ByLimit,
        follows_closely: true,
        ..Prediction::default()
    }
    .with_oxygen(place, engine, unknown.oxygen_seen * flow / mean)
}

/// All injectors of a bank (or of all banks) give `loss` less on average; the place's cylinder has
/// lost most.
pub fn several(place: Place, loss: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let unevenness = unknown.shape;
    let mean = 1.0 - loss;
    let lambda = |more: f64| mean / (1.0 - loss * (1.0 + more)).max(LEAST_FLOW);
    let failing = |more: f64, point: &Point| off_mixture(lambda(more), unknown.limit, point);
    let others = UNEVEN_BESIDE.map(|part| (part * unevenness).max(-1.0));
    let beside = |point: &Point| {
        let each = others.map(|more| failing(more, point));
        each.iter().sum::<f64>() / each.len() as f64
    };
    let worst = 1.0 / lambda(unevenness);
    Prediction {
        mixture: engine.at(place, |_, _| -(1.0 - loss).ln()),
        failing: engine.by_region(|point| failing(unevenness, point)),
        failing_beside: engine.by_region(beside),
        spared_beside: SPARED_BESIDE,
        failing_known: FailingKnown::Steeply,
        follows_closely: true,
        bank_spread: match place.bank {
            None => bank_spread(unevenness, engine.cylinders_at(place)),
            Some(_) => 0.0,
        },
        ..Prediction::default()
    }
    .with_oxygen(place, engine, unknown.oxygen_seen * worst)
}

/// How far the mean loss of a bank lies from that of all, as a share: the mean of so many injectors that each have their own.
fn bank_spread(unevenness: f64, cylinders: f64) -> f64 {
    (SPREAD_OF_SET * unevenness / cylinders.sqrt()).hypot(BANKS_APART)
}

/// One injector gives nothing: its cylinder never fires, its air passes unburned.
pub fn dead(place: Place, engine: Engine<'_>) -> Prediction {
    let beside = (1.0 - 1.0 / engine.cylinders_at(place)).max(RICHEST_BESIDE);
    Prediction {
        mixture: engine.at(place, |bank, _| mean_flow_correction(1.0, engine, bank)),
        failing: engine.by_region(|_| 1.0),
        failing_beside: engine.by_region(|point| off_mixture(beside, USUAL_LEAN_LIMIT, point)),
        follows_closely: true,
        ..Prediction::default()
    }
}

/// One injector drips, `drip` against its cylinder's fuel at warm idle: the same every second, so
/// worst at idle. The controller takes fuel from the whole bank, so that the other cylinders run
/// lean and may misfire instead.
pub fn leaking(place: Place, drip: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let fading = unknown.shape;
    let excess = |point: &Point| drip * (engine.idle().air / point.air.max(0.1)).powf(fading);
    let mean = |point: &Point| 1.0 + excess(point) / engine.cylinders_at(place);
    Prediction {
        mixture: engine.at(place, |_, point| -mean(point).ln()),
        failing: engine
            .by_region(|point| too_rich(mean(point) / (1.0 + excess(point)), unknown.limit)),
        failing_beside: engine.by_region(|point| off_mixture(mean(point), USUAL_LEAN_LIMIT, point)),
        ..Prediction::default()
    }
    .with_oxygen(place, engine, unknown.oxygen_seen)
}

fn mean_flow_correction(loss: f64, engine: Engine<'_>, bank: usize) -> f64 {
    let mean = 1.0 - loss / engine.setting.of_bank(bank);
    -mean.max(LEAST_FLOW).ln()
}

/// Share of firings that fail with a mixture of `lambda` (air over fuel): too lean or too rich.
pub(super) fn off_mixture(lambda: f64, lean_limit: f64, point: &Point) -> f64 {
    off_mixture_by(lambda, lean_limit, 1.0, point)
}

/// The same where the limit rises by this share of what is usual.
fn off_mixture_by(lambda: f64, lean_limit: f64, rise: f64, point: &Point) -> f64 {
    let load = ((point.filling - 0.3) / 0.5).clamp(0.0, 1.0);
    let fast = ((point.rpm - 800.0) / 1700.0).clamp(0.0, 1.0);
    let limit = lean_limit + rise * (LIMIT_RISE * load + LIMIT_RISE_BY_SPEED * fast);
    let lean = misfire::logistic((lambda - limit) / LIMIT_WIDTH);
    let rich = too_rich(lambda, RICH_LIMIT);
    let either = lean + rich - lean * rich;
    if either < healthy::NEGLIGIBLE_FAILING {
        0.0
    } else {
        either
    }
}

fn too_rich(lambda: f64, limit: f64) -> f64 {
    misfire::logistic((limit - lambda) / RICH_WIDTH)
}
