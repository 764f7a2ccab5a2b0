//! Cautions, each once, in one short sentence; whoever shows a step shows the cautions that belong
//! to it.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A danger of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Misfires that can overheat the catalyst.
    Catalyst,
    /// Opening the fuel system.
    FuelPressure,
    /// Opening a direct-injection rail.
    HighPressureRail,
    /// Engine running indoors.
    ExhaustGas,
    /// Hot and moving parts.
    MovingParts,
    /// The car may roll.
    Wheels,
    /// High voltage of the ignition.
    Spark,
    /// Watching a screen on the road.
    Road,
    /// Cleaning liquids.
    Solvents,
    /// Who has the last word.
    ServiceInformation,
}

impl Caution {
    /// The sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Catalyst => {
                "Heavy misfire or a flashing lamp can overheat the catalyst: stop driving and do \
                 not run the engine longer than the check needs."
            }
            Self::FuelPressure => {
                "Fuel stands under pressure and its vapour burns: relieve the pressure first, \
                 engine cold, no flame or spark, extinguisher at hand, eye protection and gloves, \
                 catch what spills."
            }
            Self::HighPressureRail => {
                "A direct-injection rail holds very high pressure and a jet can pierce skin: wait \
                 and relieve it as the maker says, and renew single-use lines and seals."
            }
            Self::ExhaustGas => {
                "A running engine makes carbon monoxide: extract the exhaust or work in the open \
                 air."
            }
            Self::MovingParts => "Keep hands, hair and cloth away from hot and moving parts.",
            Self::Wheels => {
                "Before running checks: wheels chocked, neutral or park, parking brake on."
            }
            Self::Spark => {
                "Ignition voltage can hurt and ignite vapour: engine off before touching coils or \
                 leads."
            }
            Self::Road => "On the road the driver drives and someone else reads the screen.",
            Self::Solvents => {
                "Cleaning fluid: follow its data sheet and dispose of it by local rule."
            }
            Self::ServiceInformation => {
                "The maker's service information, local rules and a licensed technician come \
                 first."
            }
        }
    }
}

impl fmt::Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
