//! Injectors: restricted, dead, leaking.
//!
//! A restricted injector delivers less fuel at every opening, so its bank needs −ln(mean flow) everywhere. The
//! controller corrects the bank's mean; the restricted cylinder stays lean by mean flow over own flow and begins to
//! misfire where a lean charge burns worst: at idle and light load.

use crate::bank::Bank;

use super::{
    super::healthy,
    Assumed, EngineModel, FailingKnown, Location, Model, OnTheBench, Point, Prediction, Variant,
    bench::LEAST,
    misfire,
    model::{both, combined, each},
};

/// How much of the usual rise of the lean limit by load and speed an engine has, 0 to 1, with probabilities: with
/// little charge motion, or exhaust gas recirculation at cruise, the limit is hardly higher there than at idle
/// (assumed).
const LIMIT_RISES: &Assumed<f64> = &[(0.55, 1.0), (0.45, 0.3)];
/// Lean limits at idle, as lambda (air–fuel ratio over stoichiometric), in two steps with their probabilities, where the
/// failing firings of several cylinders depend on them: the halves of what sound engines have, 1.2 to 1.5 (Heywood,
/// *Internal Combustion Engine Fundamentals*, from memory; common practice puts the limit near the lower end for a cold
/// or worn engine).
const FEW_LEAN_LIMITS: &Assumed<f64> = &[(0.55, 1.29), (0.45, 1.42)];
/// Lean limit at idle, as lambda: the middle of what sound engines have. How far one engine's limit lies from it is a
/// part of how well its failing firings are known ([`FailingKnown::ByLimit`]).
pub const USUAL_LEAN_LIMIT: f64 = 1.35;
/// Rise of the lean limit, in lambda, from idle to full load (assumed: a full charge has less residual gas than at idle
/// and so burns leaner).
const LIMIT_RISE: f64 = 0.2;
/// Rise of the lean limit, in lambda, from idle speed to 2500 rpm, where charge motion is stronger (assumed).
const LIMIT_RISE_BY_SPEED: f64 = 0.06;
/// Width of the logistic curve around the lean limit, in lambda (assumed): at the limit half the firings fail, this far
/// below it about a quarter. It decides how soon a restricted injector is expected to misfire.
const LIMIT_WIDTH: f64 = 0.035;
/// Rich limit, as lambda: a cylinder this rich misfires as often as not (common practice).
const RICH_LIMIT: f64 = 0.53;
/// Width of the logistic curve around the rich limit, in lambda (assumed).
const RICH_WIDTH: f64 = 0.02;
/// Rich limits, as lambda, with their probabilities: engines with a hot spark or strong charge motion tolerate richer
/// mixtures (common practice; the probabilities are assumed).
const RICH_LIMITS: &Assumed<f64> = &[(0.4, RICH_LIMIT), (0.3, 0.47), (0.3, 0.59)];
/// How much more than the mean the worst of several dirty injectors has lost, as a share of the mean loss, with
/// probabilities: dirt is never spread evenly (common practice; a factory's good set may differ by as much as its mean
/// loss), and where some of a set are still clean the worst has lost more than twice the mean.
const UNEVENNESS: &Assumed<f64> = &[
    (0.30, 0.2),
    (0.28, 0.4),
    (0.20, 0.6),
    (0.14, 0.8),
    (0.08, 1.2),
];
/// How much more than the mean the other injectors have lost, as parts of the worst one's excess: no two are alike, and
/// none delivers more than a clean one (assumed).
const UNEVEN_OTHERS: [f64; 3] = [-1.0, -0.3, 0.5];
/// Share of the other injectors in [`UNEVEN_OTHERS`] that are not leaner than the mean: only the last one is.
const SPARED_OTHERS: f64 = 2.0 / 3.0;
/// Standard deviation of the other injectors' losses around their mean, as a part of the worst one's excess over the
/// mean loss: that of [`UNEVEN_OTHERS`].
const SPREAD_OTHERS: f64 = 0.6;
/// Standard deviation of the losses of the whole set, the worst injector included, as a part of the worst one's excess
/// over the mean loss: about that of [`UNEVEN_OTHERS`] with the worst (1) added. The difference expected between two
/// banks is proportional to it.
const SPREAD_OF_SET: f64 = 0.8;
/// Standard deviation between one bank's dirt and that of all banks, beyond the injectors' own differences, as a share
/// of the loss: heat, vapours, the order along the rail (assumed).
const BANKS_APART: f64 = 0.1;
/// Ways in which an injector is dead, with their probabilities (common practice).
const WAYS_TO_DIE: &Assumed<Death> = &[
    (0.45, Death::Winding),
    (0.30, Death::NotDriven),
    (0.25, Death::Stuck),
];
/// Richest mixture, as lambda, to which saturated trims bring the other cylinders of a bank with a dead injector: the
/// trims end at a third more fuel (common practice: limits of 25 % and 35 % are usual), and such a mixture still burns.
const RICHEST_OTHERS: f64 = 0.75;
/// Smallest share of its fuel that a cylinder receives in a prediction (assumed; it keeps lambda finite).
const LEAST_FLOW: f64 = 0.02;

/// Drops per minute that equal the fuel of one cylinder at warm idle: some 4 mL/min (1.6 g/s of air per litre, half a
/// litre, 14.7 by mass, 0.745 g/mL) in drops of 0.03 mL (common practice: 0.02 to 0.05).
const DROPS_OF_IDLE_FUEL: f64 = 140.0;

/// One injector that delivers less by the share `size`.
#[derive(Debug)]
struct Restricted {
    limit_rise: f64,
    oxygen_seen: f64,
}

/// Variants of one restricted injector.
pub fn restricted() -> Vec<Variant> {
    both(
        LIMIT_RISES,
        misfire::OXYGEN_SEEN_OF_FEW,
        |limit_rise, oxygen_seen| Restricted {
            limit_rise,
            oxygen_seen,
        },
    )
}

impl Model for Restricted {
    fn on_the_road(&self, location: Location, loss: f64, engine: EngineModel<'_>) -> Prediction {
        let flow = (1.0 - loss).max(LEAST_FLOW);
        let mean = 1.0 - loss / engine.cylinders_at(location);
        let others = mean.max(RICHEST_OTHERS);
        let (limit, rise) = (USUAL_LEAN_LIMIT, self.limit_rise);
        Prediction {
            mixture: engine.at(location, |bank, _| mean_flow_trim(loss, engine, bank)),
            failing: engine.by_region(|point| off_mixture_by(mean / flow, limit, rise, point)),
            failing_others: engine.by_region(|point| off_mixture(others, limit, point)),
            failing_known: FailingKnown::ByLimit,
            follows_closely: true,
            ..Prediction::default()
        }
        .with_oxygen(location, engine, self.oxygen_seen * flow / mean)
    }

    /// Predicts the bench: a lean charge does less work, by about the share of fuel that it lacks.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        loss: f64,
        _engine: EngineModel<'_>,
    ) -> OnTheBench {
        OnTheBench {
            flow: (1.0 - loss).max(LEAST),
            power: (1.0 - loss).max(LEAST) * sound.power,
            silent: 0.03,
            ..sound
        }
    }
}

/// All injectors of a bank (or of all banks) deliver less by the share `size` on average; that of the place's cylinder
/// has lost most.
#[derive(Debug)]
pub struct SeveralRestricted {
    pub unevenness: f64,
    pub oxygen_seen: f64,
    pub lean_limit: f64,
}

/// Variants of several restricted injectors.
pub fn several_restricted() -> Vec<Variant> {
    combined(
        UNEVENNESS,
        misfire::OXYGEN_SEEN_OF_FEW,
        FEW_LEAN_LIMITS,
        |unevenness, oxygen_seen, lean_limit| SeveralRestricted {
            unevenness,
            oxygen_seen,
            lean_limit,
        },
    )
}

impl Model for SeveralRestricted {
    fn on_the_road(&self, location: Location, loss: f64, engine: EngineModel<'_>) -> Prediction {
        let unevenness = self.unevenness;
        let mean = 1.0 - loss;
        let lambda = |more: f64| mean / (1.0 - loss * (1.0 + more)).max(LEAST_FLOW);
        let failing = |more: f64, point: &Point| off_mixture(lambda(more), self.lean_limit, point);
        let others = UNEVEN_OTHERS.map(|part| (part * unevenness).max(-1.0));
        let others = |point: &Point| {
            let each = others.map(|more| failing(more, point));
            each.iter().sum::<f64>() / each.len() as f64
        };
        let worst = 1.0 / lambda(unevenness);
        Prediction {
            mixture: engine.at(location, |_, _| -(1.0 - loss).ln()),
            failing: engine.by_region(|point| failing(unevenness, point)),
            failing_others: engine.by_region(others),
            spared_others: SPARED_OTHERS,
            failing_known: FailingKnown::Steeply,
            follows_closely: true,
            bank_spread: match location.bank {
                None => bank_spread(unevenness, engine.cylinders_at(location)),
                Some(_) => 0.0,
            },
            ..Prediction::default()
        }
        .with_oxygen(location, engine, self.oxygen_seen * worst)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        location: Location,
        loss: f64,
        engine: EngineModel<'_>,
    ) -> OnTheBench {
        let others = (engine.cylinders_at(location) - 1.0).max(1.0);
        let flow = (1.0 - loss * (1.0 + self.unevenness)).max(LEAST);
        OnTheBench {
            flow,
            flow_others: (1.0 - loss * (1.0 - self.unevenness / others)).min(1.0),
            // the other injectors differ by as much as they are assumed to misfire differently
            flow_spread: SPREAD_OTHERS * self.unevenness * loss,
            power: flow / (1.0 - loss).max(LEAST) * sound.power,
            ..sound
        }
    }
}

/// Standard deviation of a bank's mean loss around the mean of all banks, as a share: a mean of `cylinders` injectors
/// that each have their own loss.
fn bank_spread(unevenness: f64, cylinders: f64) -> f64 {
    (SPREAD_OF_SET * unevenness / cylinders.sqrt()).hypot(BANKS_APART)
}

/// One injector that delivers nothing: its cylinder never fires and its air passes unburned.
#[derive(Debug)]
struct Dead(Death);

/// Reason why an injector delivers nothing.
#[derive(Debug, Clone, Copy)]
enum Death {
    /// The winding is open or shorted.
    Winding,
    /// Wiring, plug or driver is faulty, so no pulse arrives.
    NotDriven,
    /// The needle is stuck.
    Stuck,
}

/// Variants of one dead injector.
pub fn dead() -> Vec<Variant> {
    each(WAYS_TO_DIE, Dead)
}

impl Model for Dead {
    fn on_the_road(&self, location: Location, _size: f64, engine: EngineModel<'_>) -> Prediction {
        let others = (1.0 - 1.0 / engine.cylinders_at(location)).max(RICHEST_OTHERS);
        Prediction {
            mixture: engine.at(location, |bank, _| mean_flow_trim(1.0, engine, bank)),
            failing: engine.by_region(|_| 1.0),
            failing_others: engine.by_region(|point| off_mixture(others, USUAL_LEAN_LIMIT, point)),
            follows_closely: true,
            ..Prediction::default()
        }
    }

    /// Predicts the bench: a broken winding, a needle that does not move, or no pulse at a sound injector, which a flow
    /// bench or an injector tester still drives.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        _size: f64,
        _engine: EngineModel<'_>,
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

/// One injector that leaks the share `size` of its cylinder's fuel at warm idle: the same amount every second, so the
/// effect is worst at idle. The controller takes fuel from the whole bank, so that the other cylinders run lean and may
/// misfire instead.
#[derive(Debug)]
struct Leaking {
    oxygen_seen: f64,
    rich_limit: f64,
}

/// Variants of one leaking injector.
pub fn leaking() -> Vec<Variant> {
    both(
        misfire::OXYGEN_SEEN_OF_FEW,
        RICH_LIMITS,
        |oxygen_seen, rich_limit| Leaking {
            oxygen_seen,
            rich_limit,
        },
    )
}

impl Model for Leaking {
    fn on_the_road(&self, location: Location, drip: f64, engine: EngineModel<'_>) -> Prediction {
        let idle = engine.idle().air;
        let excess = |point: &Point| drip * idle / point.air.max(0.1);
        let mean = |point: &Point| 1.0 + excess(point) / engine.cylinders_at(location);
        let own = |point: &Point| mean(point) / (1.0 + excess(point));
        let others = |point: &Point| off_mixture(mean(point), USUAL_LEAN_LIMIT, point);
        Prediction {
            mixture: engine.at(location, |_, point| -mean(point).ln()),
            failing: engine.by_region(|point| too_rich(own(point), self.rich_limit)),
            failing_others: engine.by_region(others),
            ..Prediction::default()
        }
        .with_oxygen(location, engine, self.oxygen_seen)
    }

    /// Predicts the bench: half a millilitre per minute empties a rail, which yields one to three, well within ten
    /// minutes. Some injectors leak only when hot, or shut late and do not leak when closed.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        drip: f64,
        _engine: EngineModel<'_>,
    ) -> OnTheBench {
        OnTheBench {
            drops_per_minute: DROPS_OF_IDLE_FUEL * drip,
            hold: [0.15, 0.10, 0.75],
            ..sound
        }
    }
}

fn mean_flow_trim(loss: f64, engine: EngineModel<'_>, bank: Bank) -> f64 {
    let mean = 1.0 - loss / engine.config.cylinders_of(bank);
    -mean.max(LEAST_FLOW).ln()
}

/// Share of firings that fail, 0 to 1, at a mixture of `lambda` (air–fuel ratio over stoichiometric): too lean or too
/// rich.
pub(super) fn off_mixture(lambda: f64, lean_limit: f64, point: &Point) -> f64 {
    off_mixture_by(lambda, lean_limit, 1.0, point)
}

/// Share of firings that fail, 0 to 1, at a mixture of `lambda` on an engine whose lean limit rises with load and speed
/// by the share `rise` of the usual rise.
fn off_mixture_by(lambda: f64, lean_limit: f64, rise: f64, point: &Point) -> f64 {
    let load = ((point.manifold_ratio - 0.3) / 0.5).clamp(0.0, 1.0);
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
