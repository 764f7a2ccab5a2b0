//! Air that comes in behind the meter.
//!
//! The hole is small against the throttle: its flow is choked while the manifold stands below about
//! 0.53 of the barometer, and falls to nothing as they come together. Against the engine's air it
//! is large at idle and fades. A car that meters by manifold pressure sees the leaked air and
//! hardly trims for it; only the banks may part.
//!
//! A leak at one runner is mostly breathed by the cylinder there: the trims set the mean right, that
//! cylinder stays lean and may misfire where the leak weighs most, at idle, however the air is metered.

use crate::vehicle::AirMetering;

use crate::bank::Bank;

use super::{
    Assumed, Engine, Model, Place, Point, Prediction, Variant, injector, misfire, model::both,
};

/// Pressure ratio below which the flow through a hole is choked (isentropic flow of air, γ = 1.4:
/// 0.528).
const CHOKED_RATIO: f64 = 0.528;
/// How the leaked air fades against the engine's air beside the choking: exponent. 1 for a plain
/// hole; a hose that collapses or a gasket that opens with the pressure departs from that (common
/// practice).
const FADINGS: &Assumed<f64> = &[(0.6, 1.0), (0.2, 0.75), (0.2, 1.3)];
/// Share of a leak at one bank's runners that this bank breathes itself (the rest mixes in the
/// plenum; an assumption).
const OWN_SHARES: &Assumed<f64> = &[(0.4, 0.95), (0.35, 0.75), (0.25, 0.6)];
/// Share of a leak at one bank's runners that one cylinder, the place's, breathes beyond its even part:
/// nothing for a gasket that is gone along the bank, much for a seal at its own runner. Three steps, as
/// its lean limit is not known either (assumed).
const NEAR_ONE: &Assumed<f64> = &[(0.7, 0.0), (0.1, 0.3), (0.1, 0.5), (0.1, 0.9)];
/// The same of any leak: hoses and the plenum's gasket are nearer to none.
const SELDOM_NEAR_ONE: &Assumed<f64> = &[(0.85, 0.0), (0.05, 0.3), (0.05, 0.5), (0.05, 0.9)];
/// Most of the air that may be leaked.
const MOST_LEAKED: f64 = 0.9;

/// Flow through a hole against its choked flow, by manifold pressure over barometer (elliptic
/// approximation of the isentropic nozzle, within 1 %).
pub fn choked_share(ratio: f64) -> f64 {
    let beyond = ((ratio - CHOKED_RATIO) / (1.0 - CHOKED_RATIO)).clamp(0.0, 1.0);
    (1.0 - beyond * beyond).sqrt()
}

/// A leak of `size` against the engine's air at warm idle, into the bank meant or the whole engine.
pub fn leak(
    place: Place,
    size: f64,
    fading: f64,
    own_share: f64,
    engine: Engine<'_>,
) -> Prediction {
    let leaked = |point: &Point| leaked(size, fading, point, engine);
    let breathed = |bank: Bank| match place.bank {
        None => engine.setting.share(bank),
        Some(meant) if meant == bank => own_share,
        Some(_) => (1.0 - own_share) / (engine.banks as f64 - 1.0).max(1.0),
    };
    let mixture = engine.each(|bank, point| {
        let leaked = leaked(point);
        let share = engine.setting.share(bank);
        match engine.setting.metering {
            AirMetering::Maf => (1.0 + leaked / (1.0 - leaked) * breathed(bank) / share).ln(),
            AirMetering::Map => (leaked * (breathed(bank) / share - 1.0).max(0.0)).ln_1p(),
        }
    });
    Prediction {
        mixture,
        metered_log: match engine.setting.metering {
            AirMetering::Maf => engine.by_region(|point| (-leaked(point)).ln_1p()),
            AirMetering::Map => Default::default(),
        },
        ..Prediction::default()
    }
}

/// A leak of which one cylinder, the place's, may breathe a part alone.
#[derive(Debug)]
pub struct Leak {
    /// As for [`leak`].
    pub fading: f64,
    /// As for [`leak`].
    pub own_share: f64,
    /// Share of the leak that the place's cylinder breathes beyond its even part.
    pub near_one: f64,
}

/// A leak anywhere.
pub fn anywhere() -> Vec<Variant> {
    both(FADINGS, SELDOM_NEAR_ONE, |fading, near_one| Leak {
        fading,
        own_share: 1.0,
        near_one,
    })
}

/// A leak at one bank's runners.
pub fn one_bank() -> Vec<Variant> {
    both(OWN_SHARES, NEAR_ONE, |own_share, near_one| Leak {
        fading: 1.0,
        own_share,
        near_one,
    })
}

impl Model for Leak {
    fn on_the_road(&self, place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let prediction = leak(place, size, self.fading, self.own_share, engine);
        if self.near_one <= 0.0 || place.cylinder.is_none() {
            return prediction;
        }
        let all = engine.setting.total();
        let sharing = match place.bank {
            Some(_) => engine.cylinders_at(place),
            None => all,
        };
        let failing = engine.by_region(|point| {
            let alone = self.near_one * all * leaked(size, self.fading, point, engine);
            let lambda = (1.0 + alone) / (1.0 + alone / sharing);
            injector::off_mixture(lambda, injector::USUAL_LEAN_LIMIT, point)
        });
        let prediction = Prediction {
            failing,
            ..prediction
        };
        if place.bank.is_some() || engine.banks == 1 {
            prediction.with_oxygen(place, engine, misfire::USUAL_OXYGEN_SEEN)
        } else {
            // it is not known on which bank
            prediction
        }
    }
}

/// Share of the engine's air that comes in by the leak.
fn leaked(size: f64, fading: f64, point: &Point, engine: Engine<'_>) -> f64 {
    let idle_share = choked_share(engine.idle().filling).max(0.05);
    let against_air = (engine.idle().air / point.air.max(0.1)).powf(fading);
    let share = size * against_air * choked_share(point.filling) / idle_share;
    share.min(MOST_LEAKED)
}
