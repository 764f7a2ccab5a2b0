//! Injectors: restricted, dead, dripping.
//!
//! A restricted injector gives less fuel at every opening, so its bank needs −ln(mean flow)
//! everywhere. The controller brings the bank's mean right; the restricted cylinder stays lean by
//! mean flow over own flow and begins to misfire where a lean charge burns worst: at idle and light
//! load.

use crate::bank::Bank;

use super::{
    super::healthy,
    Assumed, Engine, FailingKnown, Model, OnTheBench, Place, Point, Prediction, Variant,
    bench::LEAST,
    misfire,
    model::{NOTHING, combined, each},
};

/// Lean limits at idle, as air over fuel: a sound cylinder misfires beyond 1.2 to 1.5 (Heywood,
/// *Internal Combustion Engine Fundamentals*, from memory; common practice has it near the lower
/// end for a cold or worn engine).
const LEAN_LIMITS: &Assumed<f64> = &[
    (0.17, 1.22),
    (0.24, 1.29),
    (0.27, 1.36),
    (0.20, 1.43),
    (0.12, 1.50),
];
/// How much of the usual rise of the limit by load and speed an engine has: with poor motion of the charge, or burnt gas led
/// back at cruise, it is little better there than at idle (assumed).
const LIMIT_RISES: &Assumed<f64> = &[(0.55, 1.0), (0.45, 0.3)];
/// How a drip fades against the engine's fuel: exponent. 1 for the same every second; less where the
/// needle also shuts late or the rail's pressure rises with the load (common practice).
const DRIP_FADINGS: &Assumed<f64> = &[(0.5, 1.0), (0.3, 0.7), (0.2, 0.4)];
/// The same in two steps, where more is unknown.
const FEW_LEAN_LIMITS: &Assumed<f64> = &[(0.55, 1.29), (0.45, 1.42)];
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
const RICH_LIMITS: &Assumed<f64> = &[(0.4, RICH_LIMIT), (0.3, 0.47), (0.3, 0.59)];
/// How much more than the mean the worst of several dirty injectors has lost: dirt is never spread
/// evenly (common practice; a factory's good set may differ by as much as its mean loss), and where some of a
/// set are still clean the worst has lost more than twice the mean.
const UNEVENNESS: &Assumed<f64> = &[
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
const SPREAD_BESIDE: f64 = 0.6;
/// That of the whole set, the worst included.
const SPREAD_OF_SET: f64 = 0.8;
/// What the dirt of one bank differs by from that of all banks beside its injectors' own: heat, vapours, the order along the
/// rail (assumed, as share of the loss).
const BANKS_APART: f64 = 0.1;
/// Ways to be dead (common practice).
const WAYS_TO_DIE: &Assumed<Death> = &[
    (0.45, Death::Winding),
    (0.30, Death::NotDriven),
    (0.25, Death::Stuck),
];
/// The trims cannot make the others richer than this, air over fuel: they stop at a third more fuel (common practice: 25 %
/// and 35 % are usual stops), and such a mixture still burns.
const RICHEST_BESIDE: f64 = 0.75;
/// Smallest share of fuel that is reckoned with.
const LEAST_FLOW: f64 = 0.02;

/// Drops a minute that the fuel of one cylinder at warm idle makes: some 4 mL/min (1.6 g/s of air a litre, half a litre,
/// 14.7 by mass, 0.745 g/mL) in drops of 0.03 mL (common practice: 0.02 to 0.05).
const DROPS_OF_IDLE_FUEL: f64 = 140.0;

/// One injector gives `size` less.
#[derive(Debug)]
struct Restricted {
    lean_limit: f64,
    limit_rise: f64,
    oxygen_seen: f64,
}

/// One injector restricted.
pub fn restricted() -> Vec<Variant> {
    combined(
        LEAN_LIMITS,
        LIMIT_RISES,
        misfire::OXYGEN_SEEN_OF_FEW,
        NOTHING,
        |lean_limit, limit_rise, oxygen_seen, ()| Restricted {
            lean_limit,
            limit_rise,
            oxygen_seen,
        },
    )
}

impl Model for Restricted {
    fn on_the_road(&self, place: Place, loss: f64, engine: Engine<'_>) -> Prediction {
        let flow = (1.0 - loss).max(LEAST_FLOW);
        let mean = 1.0 - loss / engine.cylinders_at(place);
        let beside = mean.max(RICHEST_BESIDE);
        let (limit, rise) = (self.lean_limit, self.limit_rise);
        Prediction {
            mixture: engine.at(place, |bank, _| mean_flow_correction(loss, engine, bank)),
            failing: engine.by_region(|point| off_mixture_by(mean / flow, limit, rise, point)),
            failing_beside: engine.by_region(|point| off_mixture(beside, limit, point)),
            failing_known: FailingKnown::ByLimit,
            follows_closely: true,
            ..Prediction::default()
        }
        .with_oxygen(place, engine, self.oxygen_seen * flow / mean)
    }

    /// A lean charge does less work, about as much as it lacks fuel.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        loss: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        OnTheBench {
            flow: (1.0 - loss).max(LEAST),
            power: (1.0 - loss).max(LEAST) * sound.power,
            silent: 0.03,
            ..sound
        }
    }
}

/// All injectors of a bank (or of all banks) give `size` less on average; the place's cylinder has
/// lost most.
#[derive(Debug)]
pub struct SeveralRestricted {
    pub unevenness: f64,
    pub oxygen_seen: f64,
    pub lean_limit: f64,
}

/// Several injectors restricted.
pub fn several_restricted() -> Vec<Variant> {
    combined(
        UNEVENNESS,
        NOTHING,
        misfire::OXYGEN_SEEN_OF_FEW,
        FEW_LEAN_LIMITS,
        |unevenness, (), oxygen_seen, lean_limit| SeveralRestricted {
            unevenness,
            oxygen_seen,
            lean_limit,
        },
    )
}

impl Model for SeveralRestricted {
    fn on_the_road(&self, place: Place, loss: f64, engine: Engine<'_>) -> Prediction {
        let unevenness = self.unevenness;
        let mean = 1.0 - loss;
        let lambda = |more: f64| mean / (1.0 - loss * (1.0 + more)).max(LEAST_FLOW);
        let failing = |more: f64, point: &Point| off_mixture(lambda(more), self.lean_limit, point);
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
        .with_oxygen(place, engine, self.oxygen_seen * worst)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        place: Place,
        loss: f64,
        engine: Engine<'_>,
    ) -> OnTheBench {
        let others = (engine.cylinders_at(place) - 1.0).max(1.0);
        let flow = (1.0 - loss * (1.0 + self.unevenness)).max(LEAST);
        OnTheBench {
            flow,
            flow_beside: (1.0 - loss * (1.0 - self.unevenness / others)).min(1.0),
            // the others beside the worst lie as far apart as they are assumed to misfire apart
            flow_spread: SPREAD_BESIDE * self.unevenness * loss,
            power: flow / (1.0 - loss).max(LEAST) * sound.power,
            ..sound
        }
    }
}

/// How far the mean loss of a bank lies from that of all, as a share: the mean of so many injectors that each have their own.
fn bank_spread(unevenness: f64, cylinders: f64) -> f64 {
    (SPREAD_OF_SET * unevenness / cylinders.sqrt()).hypot(BANKS_APART)
}

/// One injector gives nothing: its cylinder never fires, its air passes unburned.
#[derive(Debug)]
struct Dead(Death);

/// Why an injector gives nothing.
#[derive(Debug, Clone, Copy)]
enum Death {
    /// Its winding is open or shorted.
    Winding,
    /// Wiring, plug or driver fail it.
    NotDriven,
    /// It is stuck inside.
    Stuck,
}

/// One injector dead.
pub fn dead() -> Vec<Variant> {
    each(WAYS_TO_DIE, Dead)
}

impl Model for Dead {
    fn on_the_road(&self, place: Place, _size: f64, engine: Engine<'_>) -> Prediction {
        let beside = (1.0 - 1.0 / engine.cylinders_at(place)).max(RICHEST_BESIDE);
        Prediction {
            mixture: engine.at(place, |bank, _| mean_flow_correction(1.0, engine, bank)),
            failing: engine.by_region(|_| 1.0),
            failing_beside: engine.by_region(|point| off_mixture(beside, USUAL_LEAN_LIMIT, point)),
            follows_closely: true,
            ..Prediction::default()
        }
    }

    /// A broken winding, a needle that does not move, or no pulse at a sound injector, which a bench or a tester of its own
    /// drives all the same.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        _size: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        let dead = OnTheBench {
            silent: 0.95,
            power: 0.0,
            ..sound
        };
        match self.0 {
            Death::Winding => OnTheBench {
                gives_nothing: 0.97,
                coil: [0.90, 0.05],
                ..dead
            },
            Death::Stuck => OnTheBench {
                gives_nothing: 0.95,
                silent: 0.80,
                ..dead
            },
            // measured through its wiring the winding may look open
            Death::NotDriven => OnTheBench {
                gives_nothing: 0.10,
                coil: [0.10, 0.02],
                no_pulse: 0.95,
                ..dead
            },
        }
    }
}

/// One injector leaks, `size` against its cylinder's fuel at warm idle: the same every second, so
/// worst at idle. The controller takes fuel from the whole bank, so that the other cylinders run
/// lean and may misfire instead.
#[derive(Debug)]
struct Leaking {
    fading: f64,
    oxygen_seen: f64,
    rich_limit: f64,
}

/// One injector leaking.
pub fn leaking() -> Vec<Variant> {
    combined(
        DRIP_FADINGS,
        NOTHING,
        misfire::OXYGEN_SEEN_OF_FEW,
        RICH_LIMITS,
        |fading, (), oxygen_seen, rich_limit| Leaking {
            fading,
            oxygen_seen,
            rich_limit,
        },
    )
}

impl Model for Leaking {
    fn on_the_road(&self, place: Place, drip: f64, engine: Engine<'_>) -> Prediction {
        let idle = engine.idle().air;
        let excess = |point: &Point| drip * (idle / point.air.max(0.1)).powf(self.fading);
        let mean = |point: &Point| 1.0 + excess(point) / engine.cylinders_at(place);
        let own = |point: &Point| mean(point) / (1.0 + excess(point));
        let beside = |point: &Point| off_mixture(mean(point), USUAL_LEAN_LIMIT, point);
        Prediction {
            mixture: engine.at(place, |_, point| -mean(point).ln()),
            failing: engine.by_region(|point| too_rich(own(point), self.rich_limit)),
            failing_beside: engine.by_region(beside),
            ..Prediction::default()
        }
        .with_oxygen(place, engine, self.oxygen_seen)
    }

    /// Half a millilitre a minute empties a rail, which gives up one to three, well within ten; some leak only when hot or
    /// shut late, and do not leak when shut.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        drip: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        OnTheBench {
            drops_per_minute: DROPS_OF_IDLE_FUEL * drip,
            hold: [0.15, 0.10, 0.75],
            ..sound
        }
    }
}

fn mean_flow_correction(loss: f64, engine: Engine<'_>, bank: Bank) -> f64 {
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
