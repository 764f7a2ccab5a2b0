//! The vocabulary of causes: what can be wrong with the engine, where it sits and the quantity that measures its size.
//!
//! Only names and their rules are here; what a cause does to the readings belongs to the diagnosis (as a prediction)
//! and, separately, to the simulated car (as a fault).

use std::{fmt, str::FromStr};

use serde::{Deserialize, Serialize, Serializer};

/// An explanation of what the engine does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Nothing to find.
    NoneFound,
    /// One injector delivers too little.
    InjectorRestricted,
    /// Several injectors deliver too little.
    InjectorsRestrictedSeveral,
    /// One injector delivers nothing.
    InjectorDead,
    /// One injector leaks when it should be closed.
    InjectorLeaking,
    /// Unmetered air reaches all cylinders.
    IntakeLeak,
    /// Unmetered air reaches mostly one bank.
    IntakeLeakOneBank,
    /// The MAF or MAP sensor reads too low.
    AirMeterLow,
    /// The MAF or MAP sensor reads too high.
    AirMeterHigh,
    /// Rail pressure too low.
    FuelPressureLow,
    /// Rail pressure too high.
    FuelPressureHigh,
    /// Weak spark on one cylinder.
    IgnitionWeak,
    /// Low compression on one cylinder.
    CompressionLow,
    /// Exhaust draws in air ahead of the oxygen sensor.
    ExhaustLeak,
    /// One bank's exhaust is blocked.
    ExhaustBlockedOneBank,
    /// The purge valve does not close.
    PurgeStuck,
    /// The fuel's blend has changed.
    FuelBlend,
    /// Misfires over all cylinders without a pattern.
    MisfireRandom,
}

/// Where a cause can sit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// The whole engine.
    Engine,
    /// One bank.
    Bank,
    /// One cylinder.
    Cylinder,
}

/// The quantity, with its unit, that measures a cause's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeverityQuantity {
    /// Fuel missing per opening of an injector, or exhaust flow that a blocked bank loses, percent.
    FlowLossPct,
    /// Unmetered air as a share of the engine's air at warm idle, percent.
    LeakPctOfIdleAir,
    /// Leaked fuel as a share of one cylinder's fuel at warm idle, percent.
    DripPctOfIdleFuel,
    /// Error of the MAF sensor, percent.
    ReadingErrorPct,
    /// Error of the rail pressure, percent.
    PressureErrorPct,
    /// Share of the cylinder's firings that fail, percent.
    MisfirePct,
    /// Compression lost, percent.
    CompressionLossPct,
    /// Fuel that a falsely lean reading adds at warm idle, percent.
    FalseLeanPctAtIdle,
    /// Purge vapour as a share of the engine's fuel at warm idle, or air as a share of its air, percent.
    FuelPctOfIdleFuel,
    /// Ethanol in the tank, new minus old, points.
    EthanolChangePoints,
}

impl Serialize for SeverityQuantity {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.id())
    }
}

impl SeverityQuantity {
    /// The identifier used in machine-readable output.
    pub const fn id(self) -> &'static str {
        match self {
            Self::FlowLossPct => "flow_loss_pct",
            Self::LeakPctOfIdleAir => "leak_pct_of_idle_air",
            Self::DripPctOfIdleFuel => "drip_pct_of_idle_fuel",
            Self::ReadingErrorPct => "reading_error_pct",
            Self::PressureErrorPct => "pressure_error_pct",
            Self::MisfirePct => "misfire_pct",
            Self::CompressionLossPct => "compression_loss_pct",
            Self::FalseLeanPctAtIdle => "false_lean_pct_at_idle",
            Self::FuelPctOfIdleFuel => "fuel_pct_of_idle_fuel",
            Self::EthanolChangePoints => "ethanol_change_points",
        }
    }
}

impl Cause {
    /// Every cause once, `none_found` first.
    pub const ALL: [Self; 18] = [
        Self::NoneFound,
        Self::InjectorRestricted,
        Self::InjectorsRestrictedSeveral,
        Self::InjectorDead,
        Self::InjectorLeaking,
        Self::IntakeLeak,
        Self::IntakeLeakOneBank,
        Self::AirMeterLow,
        Self::AirMeterHigh,
        Self::FuelPressureLow,
        Self::FuelPressureHigh,
        Self::IgnitionWeak,
        Self::CompressionLow,
        Self::ExhaustLeak,
        Self::ExhaustBlockedOneBank,
        Self::PurgeStuck,
        Self::FuelBlend,
        Self::MisfireRandom,
    ];

    /// The identifier used in files and machine-readable output.
    pub const fn id(self) -> &'static str {
        match self {
            Self::NoneFound => "none_found",
            Self::InjectorRestricted => "injector_restricted",
            Self::InjectorsRestrictedSeveral => "injectors_restricted_several",
            Self::InjectorDead => "injector_dead",
            Self::InjectorLeaking => "injector_leaking",
            Self::IntakeLeak => "intake_leak",
            Self::IntakeLeakOneBank => "intake_leak_one_bank",
            Self::AirMeterLow => "air_meter_low",
            Self::AirMeterHigh => "air_meter_high",
            Self::FuelPressureLow => "fuel_pressure_low",
            Self::FuelPressureHigh => "fuel_pressure_high",
            Self::IgnitionWeak => "ignition_weak",
            Self::CompressionLow => "compression_low",
            Self::ExhaustLeak => "exhaust_leak",
            Self::ExhaustBlockedOneBank => "exhaust_blocked_one_bank",
            Self::PurgeStuck => "purge_stuck",
            Self::FuelBlend => "fuel_blend",
            Self::MisfireRandom => "misfire_random",
        }
    }

    /// Where this cause sits.
    pub const fn scope(self) -> Scope {
        match self {
            Self::InjectorRestricted
            | Self::InjectorDead
            | Self::InjectorLeaking
            | Self::IgnitionWeak
            | Self::CompressionLow => Scope::Cylinder,
            Self::InjectorsRestrictedSeveral
            | Self::IntakeLeakOneBank
            | Self::ExhaustLeak
            | Self::ExhaustBlockedOneBank => Scope::Bank,
            _ => Scope::Engine,
        }
    }

    /// What measures the size of this cause; `None` for a cause without a size.
    pub const fn severity_quantity(self) -> Option<SeverityQuantity> {
        match self {
            Self::NoneFound | Self::InjectorDead => None,
            Self::InjectorRestricted | Self::InjectorsRestrictedSeveral => {
                Some(SeverityQuantity::FlowLossPct)
            }
            Self::InjectorLeaking => Some(SeverityQuantity::DripPctOfIdleFuel),
            Self::IntakeLeak | Self::IntakeLeakOneBank => Some(SeverityQuantity::LeakPctOfIdleAir),
            Self::AirMeterLow | Self::AirMeterHigh => Some(SeverityQuantity::ReadingErrorPct),
            Self::FuelPressureLow | Self::FuelPressureHigh => {
                Some(SeverityQuantity::PressureErrorPct)
            }
            Self::IgnitionWeak | Self::MisfireRandom => Some(SeverityQuantity::MisfirePct),
            Self::CompressionLow => Some(SeverityQuantity::CompressionLossPct),
            Self::ExhaustLeak => Some(SeverityQuantity::FalseLeanPctAtIdle),
            Self::ExhaustBlockedOneBank => Some(SeverityQuantity::FlowLossPct),
            Self::PurgeStuck => Some(SeverityQuantity::FuelPctOfIdleFuel),
            Self::FuelBlend => Some(SeverityQuantity::EthanolChangePoints),
        }
    }

    /// What the cause means for the engine, in one sentence for the customer.
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::NoneFound => "The engine gets its fuel and air as it should.",
            Self::InjectorRestricted => {
                "That injector, the valve that sprays the fuel in, delivers too little fuel, mostly because of deposits."
            }
            Self::InjectorsRestrictedSeveral => {
                "Several injectors, the valves that spray the fuel in, deliver too little fuel, mostly because of deposits."
            }
            Self::InjectorDead => "That injector does not spray at all: cleaning cannot repair it.",
            Self::InjectorLeaking => {
                "That injector leaks when it should be closed, so its cylinder gets too much fuel."
            }
            Self::IntakeLeak | Self::IntakeLeakOneBank => {
                "Air gets into the engine without being measured, so the fuel for it is missing."
            }
            Self::AirMeterLow => {
                "The air flow sensor (MAF) reads too little air, so the engine gets too little fuel."
            }
            Self::AirMeterHigh => {
                "The air flow sensor (MAF) reads too much air, so the engine gets too much fuel."
            }
            Self::FuelPressureLow => "The fuel reaches the injectors with too little pressure.",
            Self::FuelPressureHigh => "The fuel reaches the injectors with too much pressure.",
            Self::IgnitionWeak => {
                "The spark of that cylinder is too weak to light the mixture every time."
            }
            Self::CompressionLow => {
                "That cylinder loses its compression, which is a mechanical fault."
            }
            Self::ExhaustLeak => {
                "Air gets into the exhaust ahead of the oxygen sensor, which then reads wrong."
            }
            Self::ExhaustBlockedOneBank => "The exhaust of one row of cylinders is restricted.",
            Self::PurgeStuck => {
                "The valve that feeds fuel vapour from the tank to the engine does not close."
            }
            Self::FuelBlend => "The tank holds another kind of fuel than the engine is adapted to.",
            Self::MisfireRandom => {
                "Now and then the mixture does not burn, on no cylinder more than on the others."
            }
        }
    }

    /// Whether this cause is an injector's.
    pub const fn is_injector(self) -> bool {
        matches!(
            self,
            Self::InjectorRestricted
                | Self::InjectorsRestrictedSeveral
                | Self::InjectorDead
                | Self::InjectorLeaking
        )
    }

    /// The cause in a technician's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoneFound => "no fault found",
            Self::InjectorRestricted => "one injector restricted",
            Self::InjectorsRestrictedSeveral => "several injectors restricted",
            Self::InjectorDead => "one injector dead",
            Self::InjectorLeaking => "one injector leaking",
            Self::IntakeLeak => "intake air leak",
            Self::IntakeLeakOneBank => "intake air leak at one bank",
            Self::AirMeterLow => "MAF sensor reads low",
            Self::AirMeterHigh => "MAF sensor reads high",
            Self::FuelPressureLow => "fuel pressure too low",
            Self::FuelPressureHigh => "fuel pressure too high",
            Self::IgnitionWeak => "weak ignition on one cylinder",
            Self::CompressionLow => "low compression on one cylinder",
            Self::ExhaustLeak => "exhaust leak ahead of the oxygen sensor",
            Self::ExhaustBlockedOneBank => "exhaust of one bank restricted",
            Self::PurgeStuck => "purge valve stuck open",
            Self::FuelBlend => "another fuel blend in the tank",
            Self::MisfireRandom => "misfires without a pattern",
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.id())
    }
}

/// A word that is no cause's identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} is not a known cause; known are {known}", known = Cause::ALL.map(Cause::id).join(", "))]
pub struct UnknownCause(pub String);

impl FromStr for Cause {
    type Err = UnknownCause;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.into_iter().find(|cause| cause.id() == text);
        found.ok_or_else(|| UnknownCause(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_read_back_and_agree_with_json() {
        for cause in Cause::ALL {
            assert_eq!(cause.id().parse(), Ok(cause));
            assert_eq!(
                serde_json::to_string(&cause).unwrap(),
                format!("\"{}\"", cause.id())
            );
        }
    }
}
