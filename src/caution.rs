//! Dangers of a step: a few words for the line at the step, every time, and the whole sentence for the end of a page.

use std::fmt;

use serde::{Deserialize, Serialize, Serializer};

/// A danger of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Misfires that can overheat the catalyst.
    Catalyst,
    /// Opening the fuel system.
    FuelPressure,
    /// Petrol or its vapour in the open, without pressure.
    FuelVapour,
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
    /// The whole sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Catalyst => {
                "Heavy misfire (a flashing check-engine light) can overheat the catalyst: stop driving, and do not run the \
                 engine longer than the check needs."
            }
            Self::FuelPressure => {
                "Fuel is under pressure and its vapour burns. Before opening the fuel system: engine cold, pressure relieved, \
                 no flame or spark, fire extinguisher at hand, eye protection and gloves, catch what spills."
            }
            Self::FuelVapour => {
                "Petrol vapour burns: no flame or spark, fresh air, fire extinguisher at hand, gloves, catch what spills."
            }
            Self::HighPressureRail => {
                "A direct-injection rail holds very high pressure, and a jet can pierce skin: wait, relieve the pressure as \
                 the manufacturer says, never feel for leaks by hand, and fit new single-use lines and seals."
            }
            Self::ExhaustGas => {
                "A running engine makes carbon monoxide: extract the exhaust or work in the open air."
            }
            Self::MovingParts => "Keep hands, hair and cloth away from hot and moving parts.",
            Self::Wheels => {
                "Before checks with the engine running: wheels chocked, neutral or park, parking brake on."
            }
            Self::Spark => {
                "Ignition voltage can injure and can ignite vapour: engine off before you touch ignition coils or leads."
            }
            Self::Road => "On the road the driver drives and someone else reads the screen.",
            Self::Solvents => {
                "Cleaning fluid: follow its data sheet, and dispose of it by local rules."
            }
            Self::ServiceInformation => {
                "The manufacturer's service information, local rules and a licensed technician come first."
            }
        }
    }

    /// A few words, for the line at a step.
    pub const fn short(self) -> &'static str {
        match self {
            Self::Catalyst => "heavy misfire can overheat the catalyst",
            Self::FuelPressure => "relieve the fuel pressure first, no flame, eye protection",
            Self::FuelVapour => "petrol vapour, no flame",
            Self::HighPressureRail => "high-pressure rail, wait until it is relieved",
            Self::ExhaustGas => "extract the exhaust",
            Self::MovingParts => "hot and moving parts",
            Self::Wheels => "wheels chocked, brake on",
            Self::Spark => "engine off before touching ignition parts",
            Self::Road => "the driver only drives",
            Self::Solvents => "cleaning fluid, see its data sheet",
            Self::ServiceInformation => "manufacturer's instructions first",
        }
    }

    /// The line at a step: the few words of each. `None` without any.
    pub fn line(cautions: &[Self]) -> Option<String> {
        let shorts: Vec<&str> = cautions.iter().map(|caution| caution.short()).collect();
        (!shorts.is_empty()).then(|| format!("Caution: {}.", shorts.join("; ")))
    }
}

impl fmt::Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}

/// Serialises cautions in their full words.
pub fn in_words<S: Serializer>(cautions: &[Caution], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(cautions.iter().map(|caution| caution.words()))
}

/// The cautions that a step must carry, by the actions that its text asks for; for tests of the tables.
#[cfg(test)]
pub fn wanted_by(how: &str) -> Vec<Caution> {
    let asks = |words: &[&str]| words.iter().any(|word| how.contains(word));
    let opens = [
        "Measure rail pressure",
        "low-pressure side",
        "Pulse each injector",
        "injectors out",
        "Swap the injector",
        "through the rail",
        "replace the injectors",
        "Prime:",
        "compression",
    ];
    let runs = [
        "t idle",
        "arm idle",
        "2500 rpm",
        "under load",
        "engine running",
        "Start cold",
        "Listen to each injector",
        "on the car",
    ];
    let drives = [
        "on the road",
        "uphill",
        "Drive for",
        "short drive",
        "same drive",
        "mixed driving",
        "pull",
        "record again",
        "under load",
    ];
    let mut wanted = Vec::new();
    if asks(&opens) {
        wanted.push(Caution::FuelPressure);
    }
    if asks(&runs) {
        wanted.extend([Caution::ExhaustGas, Caution::Wheels, Caution::MovingParts]);
    }
    if asks(&["record again"]) {
        wanted.extend([Caution::ExhaustGas, Caution::MovingParts]);
    }
    // the starter turns the engine, and what is in gear moves
    if asks(&["compression"]) {
        wanted.extend([Caution::Wheels, Caution::MovingParts]);
    }
    if asks(&drives) {
        wanted.push(Caution::Road);
    }
    if asks(&["fuel sample", "additive", "propane"]) {
        wanted.push(Caution::FuelVapour);
    }
    if asks(&["ignition coil"]) {
        wanted.push(Caution::Spark);
    }
    if asks(&["cleaning", "clean and"]) {
        wanted.push(Caution::Solvents);
    }
    wanted
}
