//! What makes two sides look different, or alike, that is not the work: each is detected and named.

mod cars;
mod circumstances;
mod clearing;
mod fuel;

pub use fuel::question;

use crate::series::summary::Summary;

use super::comparison::{Change, Comparison, Verdict};

/// A way to deceive oneself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deception {
    /// The captures are of two cars, or of one car with two programs in its controller.
    OtherCar,
    /// The sides are the wrong way round.
    SidesSwapped,
    /// Long term trim is still being learned on a side.
    Relearning,
    /// A side has another share of ethanol.
    OtherBlend,
    /// The tank was filled between the sides, and everything moved alike.
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
            Self::OtherCar | Self::SidesSwapped => Forbids::Everything,
            Self::Relearning => Forbids::Corrections,
            Self::OtherBlend | Self::Refuelled => Forbids::Levels,
            _ => Forbids::Nothing,
        }
    }
}

/// A deception with its sentence.
type Found = (Deception, String);

/// The sides by name.
const NAMES: [&str; 2] = ["before", "after"];

/// Everything that could deceive, what forbids most first.
pub fn found(comparison: &Comparison, sides: [&[Summary]; 2]) -> Vec<Found> {
    let mut all = cars::found(sides);
    all.extend(clearing::found(sides));
    all.extend(fuel::found(comparison, sides));
    all.extend(circumstances::found(comparison, sides));
    all.sort_by_key(|(what, _)| std::cmp::Reverse(what.forbids()));
    all
}

/// Takes back what must not be said.
pub fn forbid(comparison: &mut Comparison, forbids: Forbids) {
    let take_back = |change: &mut Change| change.verdict = Verdict::CannotTell;
    if forbids >= Forbids::Levels {
        comparison
            .trims
            .iter_mut()
            .for_each(|trim| take_back(&mut trim.change));
        comparison
            .regions
            .iter_mut()
            .for_each(|region| take_back(&mut region.change));
    }
    if forbids >= Forbids::Corrections {
        comparison
            .banks
            .iter_mut()
            .for_each(|bank| take_back(&mut bank.change));
        comparison
            .standing_against_driving
            .iter_mut()
            .for_each(take_back);
    }
    if forbids == Forbids::Everything {
        for misfires in &mut comparison.misfires {
            misfires.verdict = Verdict::CannotTell;
        }
    }
}

/// Mean over the captures of a side that know a fact.
fn mean(side: &[Summary], fact: impl Fn(&Summary) -> Option<f64>) -> Option<f64> {
    let known: Vec<f64> = side.iter().filter_map(fact).collect();
    (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
}

/// The means of both sides where both know.
fn both(sides: [&[Summary]; 2], fact: impl Fn(&Summary) -> Option<f64>) -> Option<(f64, f64)> {
    let [before, after] = sides.map(|side| mean(side, &fact));
    Some((before?, after?))
}
