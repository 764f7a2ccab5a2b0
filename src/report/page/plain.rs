//! Causes in a customer's words.

use crate::cause::Cause;

/// What the cause means for the engine, in one sentence.
pub(super) const fn meaning(cause: Cause) -> &'static str {
    match cause {
        Cause::NoneFound => "The engine gets its fuel and air as it should.",
        Cause::InjectorRestricted => {
            "That injector, the valve that sprays the fuel in, delivers too little fuel, mostly because of deposits."
        }
        Cause::InjectorsRestrictedSeveral => {
            "Several injectors, the valves that spray the fuel in, deliver too little fuel, mostly because of deposits."
        }
        Cause::InjectorDead => "That injector does not spray at all: cleaning cannot repair it.",
        Cause::InjectorLeaking => {
            "That injector leaks when it should be closed, so its cylinder gets too much fuel."
        }
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => {
            "Air gets into the engine without being measured, so the fuel for it is missing."
        }
        Cause::AirMeterLow => {
            "The air flow sensor (MAF) reads too little air, so the engine gets too little fuel."
        }
        Cause::AirMeterHigh => {
            "The air flow sensor (MAF) reads too much air, so the engine gets too much fuel."
        }
        Cause::FuelPressureLow => "The fuel reaches the injectors with too little pressure.",
        Cause::FuelPressureHigh => "The fuel reaches the injectors with too much pressure.",
        Cause::IgnitionWeak => {
            "The spark of that cylinder is too weak to light the mixture every time."
        }
        Cause::CompressionLow => {
            "That cylinder loses its compression, which is a mechanical fault."
        }
        Cause::ExhaustLeak => {
            "Air gets into the exhaust ahead of the oxygen sensor, which then reads wrong."
        }
        Cause::ExhaustBlockedOneBank => "The exhaust of one row of cylinders is restricted.",
        Cause::PurgeStuck => {
            "The valve that feeds fuel vapour from the tank to the engine does not close."
        }
        Cause::FuelBlend => "The tank holds another kind of fuel than the engine is adapted to.",
        Cause::MisfireRandom => {
            "Now and then the mixture does not burn, on no cylinder more than on the others."
        }
    }
}
