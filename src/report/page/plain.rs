//! Causes in a customer's words.

use crate::cause::Cause;

/// What the cause means for the engine, in one sentence.
pub(super) const fn meaning(cause: Cause) -> &'static str {
    match cause {
        Cause::NoneFound => "The engine gets its fuel and air as it should.",
        Cause::InjectorRestricted => {
            "That injector, the valve that sprays the fuel in, lets too little through, mostly because of deposits."
        }
        Cause::InjectorsRestrictedSeveral => {
            "Several injectors, the valves that spray the fuel in, let too little through, mostly because of deposits."
        }
        Cause::InjectorDead => {
            "That injector does not spray at all: cleaning cannot bring it back."
        }
        Cause::InjectorLeaking => {
            "That injector drips when it should be shut, so that its cylinder gets too much fuel."
        }
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => {
            "Air gets into the engine past the place where it is measured, so that fuel is missing for it."
        }
        Cause::AirMeterLow => {
            "The sensor that measures the air shows too little of it, so that too little fuel is given."
        }
        Cause::AirMeterHigh => {
            "The sensor that measures the air shows too much of it, so that too much fuel is given."
        }
        Cause::FuelPressureLow => "The fuel reaches the injectors with too little pressure.",
        Cause::FuelPressureHigh => "The fuel reaches the injectors with too much pressure.",
        Cause::IgnitionWeak => {
            "The spark of that cylinder is too weak to light the mixture every time."
        }
        Cause::CompressionLow => {
            "That cylinder does not hold its pressure, which is a mechanical fault."
        }
        Cause::ExhaustLeak => {
            "Air gets into the exhaust ahead of the sensor that watches the mixture, which is misled by it."
        }
        Cause::ExhaustBlockedOneBank => {
            "The exhaust of one row of cylinders lets too little through."
        }
        Cause::PurgeStuck => "The valve that feeds tank vapour to the engine does not shut.",
        Cause::FuelBlend => "The tank holds fuel of another kind than the engine has learned.",
        Cause::MisfireRandom => {
            "The mixture fails to burn now and then, on no cylinder more than on others."
        }
    }
}
