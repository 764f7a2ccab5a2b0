//! The ways to deceive oneself, and what each forbids to say.

/// A way to deceive oneself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deception {
    /// One recording stands on both sides.
    SameRecording,
    /// The captures are of two cars, or look like it.
    OtherCar,
    /// The captures are of one car with two programs in its controller.
    ProgrammedAnew,
    /// The sides are the wrong way round.
    SidesSwapped,
    /// Long term trim is still being learned on a side.
    Relearning,
    /// A side has another share of ethanol.
    OtherBlend,
    /// The tank was surely filled up between the sides, and everything moved alike.
    Refuelled,
    /// Codes were cleared shortly before a side.
    Cleared,
    /// The sides were not driven at the same speeds and loads.
    OtherCells,
    /// The engine was cold on one side.
    Cold,
    /// The air was warmer or colder.
    OtherTemperature,
    /// The air was thicker or thinner.
    OtherPressure,
    /// Vapour was drawn in on one side.
    Purge,
    /// Misfire counters began anew inside a capture.
    CountersReset,
    /// Captures of both sides alternate in time.
    SidesMixed,
    /// Trims of a capture cannot be judged.
    NotJudged,
}

/// What cannot be said any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Forbids {
    /// It is only to be minded.
    Nothing,
    /// How high corrections stand; differences of banks and regions stay.
    Levels,
    /// Anything of corrections.
    Corrections,
    /// Anything.
    Everything,
}

impl Deception {
    /// What it forbids to say.
    pub const fn forbids(self) -> Forbids {
        match self {
            Self::SameRecording | Self::OtherCar | Self::ProgrammedAnew | Self::SidesSwapped => {
                Forbids::Everything
            }
            Self::Relearning => Forbids::Corrections,
            Self::OtherBlend | Self::Refuelled => Forbids::Levels,
            _ => Forbids::Nothing,
        }
    }
}
