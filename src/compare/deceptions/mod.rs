//! What makes two sides look different, or alike, that is not the work: each is detected and named.

mod cars;
mod circumstances;
mod clearing;
pub mod deception;
mod fuel;

pub use fuel::question;

use crate::series::summary::Summary;

use super::{
    comparison::{Change, Comparison, Verdict},
    verdict,
};
use deception::{Deception, Forbids};

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

impl Comparison {
    /// Adds what was found beside the summaries, before all else, and takes back what it forbids to say.
    pub fn forbid(&mut self, what: Deception, sentence: String) {
        self.deceptions.insert(0, what);
        self.warnings.insert(0, sentence);
        forbid(self, what.forbids());
        self.verdict = verdict::of(self);
        self.needed.clear();
    }
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
