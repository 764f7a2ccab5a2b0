//! What each cause would make the readings look like: the physics of the judgement, one file a
//! family.
//!
//! y is the natural logarithm of the total correction. For a bank with n cylinders y = ln(true air
//! / measured air) − ln(mean injector flow) − ½ ln(pressure ratio) + purge + blend + misfire terms;
//! every file here gives the term of its family, on top of a healthy engine. Sizes come as shares
//! (0.25 for 25 %).

mod air_meter;
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

pub use intake_leak::choked_share;
pub use misfire::logistic;
pub use prediction::{Engine, Place, Prediction};

/// One assumption about what stays unknown in a cause, with its weight; what the number means is
/// the family's affair.
pub type Variant = (f64, f64);

/// What stays unknown in a cause beside its size: weights sum to 1.
pub const fn variants(cause: Cause) -> &'static [Variant] {
    match cause {
        Cause::InjectorRestricted | Cause::InjectorLeaking => injector::LEAN_LIMITS,
        Cause::InjectorsRestrictedSeveral => injector::UNEVENNESS,
        Cause::AirMeterLow | Cause::AirMeterHigh => air_meter::GROWTHS,
        Cause::FuelPressureLow => fuel_pressure::GROWTHS,
        Cause::IgnitionWeak | Cause::CompressionLow | Cause::MisfireRandom => misfire::OXYGEN_SEEN,
        _ => &[(1.0, 0.0)],
    }
}

/// What a cause of this size at this place would look like.
pub fn predict(
    cause: Cause,
    place: Place,
    size: f64,
    variant: f64,
    engine: Engine<'_>,
) -> Prediction {
    match cause {
        Cause::NoneFound => Prediction::default(),
        Cause::InjectorRestricted => injector::restricted(place, size, variant, engine),
        Cause::InjectorsRestrictedSeveral => injector::several(place, size, variant, engine),
        Cause::InjectorDead => injector::dead(place, engine),
        Cause::InjectorLeaking => injector::leaking(place, size, variant, engine),
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => intake_leak::leak(place, size, engine),
        Cause::AirMeterLow => air_meter::wrong(-size, variant, engine),
        Cause::AirMeterHigh => air_meter::wrong(size, variant, engine),
        Cause::FuelPressureLow => fuel_pressure::low(size, variant, engine),
        Cause::FuelPressureHigh => fuel_pressure::high(size, engine),
        Cause::IgnitionWeak => ignition::weak(place, size, variant, engine),
        Cause::CompressionLow => compression::low(place, size, variant, engine),
        Cause::MisfireRandom => misfire::random(size, variant, engine),
        Cause::ExhaustLeak => exhaust::leak(place, size, engine),
        Cause::ExhaustBlockedOneBank => exhaust::blocked(place, size, engine),
        Cause::PurgeStuck => purge_and_blend::purge(size, engine),
        Cause::FuelBlend => purge_and_blend::blend(size, engine),
    }
}

#[cfg(test)]
mod tests;
