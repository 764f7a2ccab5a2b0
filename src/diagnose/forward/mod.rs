//! What each cause would make the readings look like: the physics of the judgement, one file a
//! family.
//!
//! y is the natural logarithm of the total correction. For a bank with n cylinders y = ln(true air
//! / measured air) − ln(mean injector flow) − ½ ln(pressure ratio) + purge + blend + misfire terms;
//! every file here gives the term of its family, on top of a healthy engine. Sizes come as shares
//! (0.25 for 25 %).

mod air_meter;
mod bench;
mod compression;
mod exhaust;
mod fuel_pressure;
mod ignition;
mod injector;
mod intake_leak;
mod misfire;
mod prediction;
mod purge_and_blend;

use crate::cause::Cause;

use super::engine::{BANKS, Point, REGIONS};

pub use bench::OnTheBench;
pub use intake_leak::choked_share;
pub use misfire::logistic;
pub use prediction::{Engine, FailingKnown, Place, Prediction};
pub use purge_and_blend::{EMPTIES_S, Emptying, Held};

/// One assumption about a single thing that is not known, with its weight.
pub type Variant = (f64, f64);

/// One assumption about all that is not known of a cause beside its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unknown {
    /// How probable it is.
    pub weight: f64,
    /// How the cause goes with the engine's operation; what the number means is the family's affair.
    pub shape: f64,
    /// Which of several ways the cause works, where there are several; what the number means is the
    /// family's affair.
    pub way: f64,
    /// Share of a misfired charge's oxygen that the sensor takes for lean.
    pub oxygen_seen: f64,
    /// Air over fuel at which half of the firings fail at idle: a lean charge's, for a drip a rich one's.
    pub limit: f64,
}

/// What is not known of a cause beside its size: every combination, weights summing to 1, the most
/// probable first.
pub fn unknowns(cause: Cause) -> Vec<Unknown> {
    let oxygen: &[Variant] = match cause {
        Cause::IgnitionWeak => misfire::OXYGEN_SEEN,
        Cause::CompressionLow
        | Cause::MisfireRandom
        | Cause::InjectorRestricted
        | Cause::InjectorsRestrictedSeveral
        | Cause::InjectorLeaking => misfire::OXYGEN_SEEN_OF_FEW,
        _ => &[(1.0, misfire::USUAL_OXYGEN_SEEN)],
    };
    let limits: &[Variant] = match cause {
        Cause::InjectorsRestrictedSeveral => injector::FEW_LEAN_LIMITS,
        Cause::InjectorLeaking => injector::RICH_LIMITS,
        _ => &[(1.0, injector::USUAL_LEAN_LIMIT)],
    };
    let mut all = Vec::new();
    for (index, (shape_weight, shape)) in shapes(cause).iter().enumerate() {
        for (way_weight, way) in ways(cause) {
            let shape_weight = match cause == Cause::PurgeStuck && purge_and_blend::empties(*way) {
                true if index == 0 => &1.0,
                true => continue,
                false => shape_weight,
            };
            for (oxygen_weight, oxygen_seen) in oxygen {
                all.extend(limits.iter().map(|(weight, limit)| Unknown {
                    weight: weight * shape_weight * way_weight * oxygen_weight,
                    shape: *shape,
                    way: *way,
                    oxygen_seen: *oxygen_seen,
                    limit: *limit,
                }));
            }
        }
    }
    all.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    all
}

const fn shapes(cause: Cause) -> &'static [Variant] {
    match cause {
        Cause::InjectorRestricted => injector::LEAN_LIMITS,
        Cause::InjectorLeaking => injector::DRIP_FADINGS,
        Cause::InjectorsRestrictedSeveral => injector::UNEVENNESS,
        Cause::AirMeterLow => air_meter::GROWTHS_LOW,
        Cause::AirMeterHigh => air_meter::GROWTHS_HIGH,
        Cause::FuelPressureLow => fuel_pressure::GROWTHS,
        Cause::IgnitionWeak => ignition::GROWTHS,
        Cause::CompressionLow => compression::FADINGS,
        Cause::MisfireRandom => misfire::LEANINGS,
        Cause::IntakeLeakOneBank => intake_leak::OWN_SHARES,
        Cause::ExhaustLeak => exhaust::FADINGS,
        Cause::ExhaustBlockedOneBank => exhaust::BLOCKED_GROWTHS,
        Cause::PurgeStuck => purge_and_blend::FADINGS,
        Cause::IntakeLeak => intake_leak::FADINGS,
        _ => &[(1.0, 0.0)],
    }
}

const fn ways(cause: Cause) -> &'static [Variant] {
    match cause {
        Cause::InjectorDead => injector::WAYS_TO_DIE,
        Cause::PurgeStuck => purge_and_blend::WHAT_FLOWS,
        Cause::FuelBlend => purge_and_blend::WITH_FILLING,
        Cause::FuelPressureLow => fuel_pressure::WAYS_LOW,
        Cause::FuelPressureHigh => fuel_pressure::WAYS_HIGH,
        Cause::InjectorRestricted => injector::LIMIT_RISES,
        Cause::CompressionLow => compression::SHARES,
        Cause::IntakeLeak => intake_leak::SELDOM_NEAR_ONE,
        Cause::IntakeLeakOneBank => intake_leak::NEAR_ONE,
        _ => &[(1.0, 0.0)],
    }
}

/// What a cause of this size at this place would look like.
pub fn predict(
    cause: Cause,
    place: Place,
    size: f64,
    unknown: Unknown,
    engine: Engine<'_>,
) -> Prediction {
    let on_the_road = on_the_road(cause, place, size, unknown, engine);
    let bench = bench::of(cause, place, size, unknown, &on_the_road, engine);
    Prediction {
        bench,
        ..on_the_road
    }
}

fn on_the_road(
    cause: Cause,
    place: Place,
    size: f64,
    unknown: Unknown,
    engine: Engine<'_>,
) -> Prediction {
    let (shape, seen) = (unknown.shape, unknown.oxygen_seen);
    match cause {
        Cause::NoneFound => Prediction::default(),
        Cause::InjectorRestricted => injector::restricted(place, size, unknown, engine),
        Cause::InjectorsRestrictedSeveral => injector::several(place, size, unknown, engine),
        Cause::InjectorDead => injector::dead(place, engine),
        Cause::InjectorLeaking => injector::leaking(place, size, unknown, engine),
        Cause::IntakeLeak => intake_leak::near(place, size, [shape, 1.0], unknown, engine),
        Cause::IntakeLeakOneBank => intake_leak::near(place, size, [1.0, shape], unknown, engine),
        Cause::AirMeterLow => air_meter::wrong(-size, shape, engine),
        Cause::AirMeterHigh => air_meter::wrong(size, shape, engine),
        Cause::FuelPressureLow => fuel_pressure::low(size, unknown, engine),
        Cause::FuelPressureHigh => fuel_pressure::high(size, unknown, engine),
        Cause::IgnitionWeak => ignition::weak(place, size, shape, seen, engine),
        Cause::CompressionLow => compression::low(place, size, unknown, engine),
        Cause::MisfireRandom => misfire::random(size, shape, seen, engine),
        Cause::ExhaustLeak => exhaust::leak(place, size, shape, engine),
        Cause::ExhaustBlockedOneBank => exhaust::blocked(place, size, shape, engine),
        Cause::PurgeStuck => purge_and_blend::purge(size, unknown, engine),
        Cause::FuelBlend => purge_and_blend::blend(size, unknown, engine),
    }
}

#[cfg(test)]
mod tests;
