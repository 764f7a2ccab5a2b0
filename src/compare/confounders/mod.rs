//! Circumstances besides the work that make two sides look different, or alike: each is detected and named.

mod cars;
mod circumstances;
mod clearing;
pub mod confounder;
mod fuel;

pub use fuel::question;

use crate::series::summary::Summary;

use super::{
    comparison::{Change, Comparison, Verdict},
    verdict,
};
use confounder::{Confounder, Forbids};

/// A misleading circumstance with its sentence.
type Found = (Confounder, String);

/// The sides by name.
const NAMES: [&str; 2] = ["before", "after"];

/// All misleading circumstances, those that rule out most first.
pub fn found(comparison: &Comparison, sides: [&[Summary]; 2]) -> Vec<Found> {
    let mut all = cars::found(sides);
    all.extend(clearing::found(sides));
    all.extend(fuel::found(comparison, sides));
    all.extend(circumstances::found(comparison, sides));
    all.sort_by_key(|(what, _)| std::cmp::Reverse(what.forbids()));
    all
}

impl Comparison {
    /// Adds a circumstance found outside the summaries, ahead of all others, and withdraws the statements that it rules
    /// out.
    pub fn forbid(&mut self, what: Confounder, sentence: String) {
        self.confounders.insert(0, what);
        self.warnings.insert(0, sentence);
        forbid(self, what.forbids());
        self.verdict = verdict::of(self);
        self.needed.clear();
    }
}

/// Withdraws the statements that are ruled out.
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
    if forbids >= Forbids::FuelTrims {
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

/// Mean of a fact over the captures of a side that report it; `None` where none does.
fn mean(side: &[Summary], fact: impl Fn(&Summary) -> Option<f64>) -> Option<f64> {
    let known: Vec<f64> = side.iter().filter_map(fact).collect();
    (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
}

/// The means of a fact on both sides; `None` unless both report it.
fn both(sides: [&[Summary]; 2], fact: impl Fn(&Summary) -> Option<f64>) -> Option<(f64, f64)> {
    let [before, after] = sides.map(|side| mean(side, &fact));
    Some((before?, after?))
}
