//! Unmetered air that enters behind the MAF sensor.
//!
//! The hole is small compared with the throttle: its flow is choked while the manifold pressure is below about 0.53 of
//! barometric pressure, and falls to zero as the two approach. As a share of the engine's air the leak is large at idle
//! and fades. A car that meters by manifold pressure sees the leaked air and hardly trims for it; only the banks may
//! differ.
//!
//! The cylinder at a leaking runner takes most of the leaked air: the trims correct the mean, so that cylinder stays
//! lean and may misfire where the leak weighs most, at idle, however the air is metered.

use crate::vehicle::AirMetering;

use crate::bank::Bank;

use super::{
    Assumed, EngineModel, Location, Model, Point, Prediction, Variant, injector, misfire,
    model::{both, each},
};

/// Pressure ratio below which the flow through a hole is choked (isentropic flow of air, γ = 1.4: 0.528).
const CHOKED_RATIO: f64 = 0.528;
/// How the leaked share of the air fades with air flow, beyond the choking: exponent of a plain hole. A hose that
/// collapses or a gasket that opens with the pressure departs from that, but to assume it for some cars has earned
/// nothing.
const FADING: f64 = 1.0;
/// Share of a leak at one bank's runners that this bank takes itself, 0 to 1, with probabilities; the rest mixes in the
/// plenum (assumed).
const OWN_SHARES: &Assumed<f64> = &[(0.4, 0.95), (0.35, 0.75), (0.25, 0.6)];
/// Share of a leak at one bank's runners that one cylinder takes beyond an even part, 0 to 1, with probabilities:
/// nothing for a gasket that leaks along the bank, much for a seal at one runner (assumed). Few steps, as the
/// cylinder's lean limit is not known either.
const NEAR_ONE: &Assumed<f64> = &[(0.7, 0.0), (0.1, 0.3), (0.1, 0.5), (0.1, 0.9)];
/// Share of a leak anywhere that one cylinder takes beyond an even part, 0 to 1, with probabilities: hoses and the
/// plenum's gasket are nearest to no cylinder (assumed).
const SELDOM_NEAR_ONE: &Assumed<f64> = &[(0.85, 0.0), (0.05, 0.3), (0.05, 0.5), (0.05, 0.9)];
/// Largest share of the engine's air that may enter by the leak, 0 to 1 (assumed; it keeps the mixture finite).
const MOST_LEAKED: f64 = 0.9;

/// Flow through a hole as a share of choked flow, by the ratio of manifold pressure to barometric pressure (elliptic
/// approximation of the isentropic nozzle, within 1 %).
pub fn choked_share(ratio: f64) -> f64 {
    let beyond = ((ratio - CHOKED_RATIO) / (1.0 - CHOKED_RATIO)).clamp(0.0, 1.0);
    (1.0 - beyond * beyond).sqrt()
}

/// Prediction for a leak of the share `size` of the engine's air at warm idle, into the place's bank or the whole
/// engine.
pub fn leak(
    location: Location,
    size: f64,
    fading: f64,
    own_share: f64,
    engine: EngineModel<'_>,
) -> Prediction {
    let leaked = |point: &Point| leaked(size, fading, point, engine);
    let breathed = |bank: Bank| match location.bank {
        None => engine.config.share(bank),
        Some(meant) if meant == bank => own_share,
        Some(_) => (1.0 - own_share) / (engine.banks as f64 - 1.0).max(1.0),
    };
    let mixture = engine.each(|bank, point| {
        let leaked = leaked(point);
        let share = engine.config.share(bank);
        match engine.config.metering {
            AirMetering::Maf => (1.0 + leaked / (1.0 - leaked) * breathed(bank) / share).ln(),
            AirMetering::Map => (leaked * (breathed(bank) / share - 1.0).max(0.0)).ln_1p(),
        }
    });
    Prediction {
        mixture,
        metered_log: match engine.config.metering {
            AirMetering::Maf => engine.by_region(|point| (-leaked(point)).ln_1p()),
            AirMetering::Map => Default::default(),
        },
        ..Prediction::default()
    }
}

/// A leak of which one cylinder, the place's, may take a part alone.
#[derive(Debug)]
pub struct Leak {
    /// Share of the leak that the place's bank takes itself, 0 to 1.
    pub own_share: f64,
    /// Share of the leak that the place's cylinder takes beyond an even part, 0 to 1.
    pub near_one: f64,
}

/// Variants of a leak anywhere in the intake.
pub fn anywhere() -> Vec<Variant> {
    each(SELDOM_NEAR_ONE, |near_one| Leak {
        own_share: 1.0,
        near_one,
    })
}

/// Variants of a leak at one bank's runners.
pub fn one_bank() -> Vec<Variant> {
    both(OWN_SHARES, NEAR_ONE, |own_share, near_one| Leak {
        own_share,
        near_one,
    })
}

impl Model for Leak {
    fn on_the_road(&self, location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let prediction = leak(location, size, FADING, self.own_share, engine);
        if self.near_one <= 0.0 || location.cylinder.is_none() {
            return prediction;
        }
        let all = engine.config.total();
        let sharing = match location.bank {
            Some(_) => engine.cylinders_at(location),
            None => all,
        };
        let failing = engine.by_region(|point| {
            let alone = self.near_one * all * leaked(size, FADING, point, engine);
            let lambda = (1.0 + alone) / (1.0 + alone / sharing);
            injector::off_mixture(lambda, injector::USUAL_LEAN_LIMIT, point)
        });
        let prediction = Prediction {
            failing,
            ..prediction
        };
        if location.bank.is_some() || engine.banks == 1 {
            prediction.with_oxygen(location, engine, misfire::USUAL_OXYGEN_SEEN)
        } else {
            // the bank is not known
            prediction
        }
    }
}

/// Share of the engine's air that enters by the leak at an operating point, 0 to 1.
fn leaked(size: f64, fading: f64, point: &Point, engine: EngineModel<'_>) -> f64 {
    let idle_share = choked_share(engine.idle().manifold_ratio).max(0.05);
    let against_air = (engine.idle().air / point.air.max(0.1)).powf(fading);
    let share = size * against_air * choked_share(point.manifold_ratio) / idle_share;
    share.min(MOST_LEAKED)
}
