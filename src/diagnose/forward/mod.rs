//! What each cause would make the readings look like: the physics of the judgement, one file per family of causes.
//!
//! y is the natural logarithm of the total fuel trim. For a bank with n cylinders y = ln(true air / measured air) −
//! ln(mean injector flow) − ½ ln(pressure ratio) + purge + blend + misfire terms; every file here gives the term of its
//! family, on top of a healthy engine. Sizes are shares (0.25 for 25 %).

mod bench;
mod compression;
mod exhaust;
mod fuel_pressure;
mod ignition;
mod injector;
mod intake_leak;
mod maf_sensor;
mod misfire;
mod model;
mod prediction;
mod purge_and_blend;

use crate::cause::Cause;

use super::engine::Point;
use model::{Assumed, Model};

pub use bench::OnTheBench;
pub use intake_leak::choked_share;
pub use misfire::logistic;
pub use model::Variant;
pub use prediction::{EngineModel, FailingKnown, Location, Prediction, TrimEffect};
pub use purge_and_blend::{CanisterLeft, EMPTIES_S, Emptying};

/// A sound engine.
#[derive(Debug)]
struct Sound;

impl Model for Sound {
    fn on_the_road(&self, _location: Location, _size: f64, _engine: EngineModel<'_>) -> Prediction {
        Prediction::default()
    }
}

/// All variants of a cause, one for each combination of assumptions besides the size; their weights sum to 1, the most
/// probable first.
pub fn variants(cause: Cause) -> Vec<Variant> {
    let mut all = match cause {
        Cause::NoneFound => vec![Variant::new(1.0, Sound)],
        Cause::InjectorRestricted => injector::restricted(),
        Cause::InjectorsRestrictedSeveral => injector::several_restricted(),
        Cause::InjectorDead => injector::dead(),
        Cause::InjectorLeaking => injector::leaking(),
        Cause::IntakeLeak => intake_leak::anywhere(),
        Cause::IntakeLeakOneBank => intake_leak::one_bank(),
        Cause::AirMeterLow => maf_sensor::reads_low(),
        Cause::AirMeterHigh => maf_sensor::reads_high(),
        Cause::FuelPressureLow => fuel_pressure::low(),
        Cause::FuelPressureHigh => fuel_pressure::high(),
        Cause::IgnitionWeak => ignition::weak(),
        Cause::CompressionLow => compression::low(),
        Cause::MisfireRandom => misfire::random(),
        Cause::ExhaustLeak => exhaust::leak(),
        Cause::ExhaustBlockedOneBank => exhaust::blocked(),
        Cause::PurgeStuck => purge_and_blend::purge(),
        Cause::FuelBlend => purge_and_blend::blend(),
    };
    all.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    all
}

#[cfg(test)]
mod tests;
