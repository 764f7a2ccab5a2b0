//! Circumstances that can mislead a comparison, and the statements that each rules out.

/// A circumstance that can mislead a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Confounder {
    /// The same recording is on both sides.
    SameRecording,
    /// The captures are of two cars, or look like it.
    OtherCar,
    /// The captures are of one car whose controller was reprogrammed in between.
    ProgrammedAnew,
    /// The sides are swapped.
    SidesSwapped,
    /// Long term trim is still being learned on a side.
    Relearning,
    /// The ethanol content differs between the sides.
    OtherBlend,
    /// The car was surely refuelled between the sides, and everything moved alike.
    Refuelled,
    /// Codes were cleared shortly before a side.
    Cleared,
    /// The sides were driven at different speeds and loads.
    OtherCells,
    /// The engine was cold on one side.
    Cold,
    /// The air temperature differs.
    OtherTemperature,
    /// The barometric pressure differs.
    OtherPressure,
    /// Fuel vapour was purged on one side only.
    Purge,
    /// Misfire counters were reset within a capture.
    CountersReset,
    /// Captures of both sides alternate in time.
    SidesMixed,
    /// Trims of a capture cannot be judged.
    NotJudged,
}

/// Statements that a circumstance rules out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Forbids {
    /// Nothing: a note is enough.
    Nothing,
    /// Statements on the level of fuel trims; differences of banks and regions remain.
    Levels,
    /// All statements on fuel trims.
    FuelTrims,
    /// All statements.
    Everything,
}

impl Confounder {
    /// Statements that this circumstance rules out.
    pub const fn forbids(self) -> Forbids {
        match self {
            Self::SameRecording | Self::OtherCar | Self::ProgrammedAnew | Self::SidesSwapped => {
                Forbids::Everything
            }
            Self::Relearning => Forbids::FuelTrims,
            Self::OtherBlend | Self::Refuelled => Forbids::Levels,
            _ => Forbids::Nothing,
        }
    }
}
