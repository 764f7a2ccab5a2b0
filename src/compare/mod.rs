//! Before and after: what changed between two sides of captures of one car, against the normal variation of an
//! unchanged car, and what could mislead.

pub mod comparison;
mod confounders;
pub mod coverage;
mod fuel;
mod matching;
mod misfires;
mod needed;
mod spread;
mod tank;
#[cfg(test)]
mod tests;
mod trims;
mod trip;
mod verdict;

use std::collections::BTreeSet;

use crate::series::summary::Summary;

pub use comparison::{CellChange, Change, Comparison, Limits, MisfireChange, Needed, Verdict};
pub use confounders::confounder::{Confounder, Forbids};
pub use coverage::Coverage;
pub use fuel::{FuelAnswer, NoFuelAnswer};
pub use needed::planned_seconds;
pub use spread::Spread;

use comparison::{BankChange, RegionChange, TrimChange};
use matching::Matched;
use trims::Statement;
use trip::Trip;

/// Confidence of the intervals of the primary statements, 0 to 1 (common practice).
pub const CONFIDENCE: f64 = 0.95;
/// Confidence of the intervals of secondary statements, 0 to 1: higher, to allow for looking more than once.
pub const SECOND_LOOK: f64 = 0.99;

/// Compares captures from after some work with captures from before it, all of one car; each capture is one trip. There
/// is no verdict where a different fuel could have caused the change, until the user states what was added.
pub fn compare(
    before: &[Summary],
    after: &[Summary],
    limits: &Limits,
    fuel: FuelAnswer,
) -> Comparison {
    let sides = [before, after];
    let statements = Statements::of(sides);
    let mut comparison = statements.comparison(sides, limits);
    comparison.fuel = fuel;
    let found = confounders::found(&comparison, sides);
    let (by_fuel, others): (Vec<_>, Vec<_>) = found
        .iter()
        .partition(|(what, _)| *what == Confounder::Refuelled);
    let most = |found: &[&(Confounder, String)]| {
        let all = found.iter().map(|(what, _)| what.forbids());
        all.max().unwrap_or(Forbids::Nothing)
    };
    let forbids = most(&others);
    confounders::forbid(&mut comparison, forbids);
    comparison.verdict = verdict::of(&comparison);
    let question = confounders::question(&comparison, sides).filter(|_| by_fuel.is_empty());
    let same_fuel = comparison.clone();
    if !by_fuel.is_empty() || question.is_some() {
        confounders::forbid(&mut comparison, Forbids::Levels);
        comparison.verdict = verdict::of(&comparison);
    }
    let hangs = fuel == FuelAnswer::Unknown && same_fuel.verdict != comparison.verdict;
    comparison.if_same_fuel = hangs.then(|| Box::new(same_fuel));
    (comparison.confounders, comparison.warnings) = found.into_iter().unzip();
    comparison.warnings.extend(question);
    let is_open = comparison.verdict == Verdict::CannotTell && comparison.if_same_fuel.is_none();
    if is_open && forbids == Forbids::Nothing {
        comparison.needed = needed::needed(&statements, &comparison, sides);
    }
    comparison
}

/// All statements on fuel trims, not judged yet.
struct Statements {
    spread: Spread,
    /// Each bank with its regions and its level, where enough was matched.
    banks: Vec<(u8, Vec<Matched>, Option<Statement>)>,
    /// Bank 1 against each other bank.
    differences: Vec<(u8, Statement)>,
    standing_against_driving: Option<Statement>,
}

impl Statements {
    fn of(sides: [&[Summary]; 2]) -> Self {
        let spread = Spread::of(sides);
        let banks = common_banks(sides);
        let pair = |trip: &dyn Fn(&Summary) -> Trip, spread: &Spread| {
            let [before, after] = sides.map(|side| side.iter().map(trip).collect::<Vec<Trip>>());
            matching::matched([&before, &after], spread)
        };
        let of_bank = |bank: &u8| {
            let matched = pair(&|summary| Trip::of_bank(summary, *bank), &spread);
            let level = trims::level(&matched, &spread);
            (*bank, matched, level)
        };
        let others = banks.iter().filter(|bank| **bank > 1 && banks.contains(&1));
        let differences = others.filter_map(|other| {
            let quiet = Spread::OF_BANKS;
            let matched = pair(&|summary| Trip::of_difference(summary, *other), &quiet);
            Some((*other, trims::together(&matched, &quiet)?))
        });
        let mean = pair(&|summary| Trip::of_mean(summary, &banks), &spread);
        Self {
            banks: banks.iter().map(of_bank).collect(),
            differences: differences.collect(),
            standing_against_driving: trims::standing_against_driving(&mean, &spread),
            spread,
        }
    }

    fn comparison(&self, sides: [&[Summary]; 2], limits: &Limits) -> Comparison {
        let banks = self.banks.iter();
        let trims = banks.clone().filter_map(|(bank, _, level)| {
            let change = level.as_ref()?.change(CONFIDENCE, limits);
            Some(TrimChange {
                bank: *bank,
                change,
            })
        });
        let regions = banks.clone().flat_map(|(bank, matched, _)| {
            matched.iter().filter_map(|one| {
                let alone = trims::level(std::slice::from_ref(one), &self.spread)?;
                Some(RegionChange {
                    bank: *bank,
                    region: one.region,
                    change: alone.change(CONFIDENCE, limits),
                })
            })
        });
        let differences = self
            .differences
            .iter()
            .map(|(other, statement)| BankChange {
                other: *other,
                change: statement.change(SECOND_LOOK, limits),
            });
        let across = self.standing_against_driving.as_ref();
        Comparison {
            verdict: Verdict::CannotTell,
            trims: trims.collect(),
            regions: regions.collect(),
            cells: cells(&self.banks),
            banks: differences.collect(),
            standing_against_driving: across.map(|across| across.change(SECOND_LOOK, limits)),
            misfires: misfires::misfires(sides, limits),
            needed: Vec::new(),
            spread: self.spread,
            limits: *limits,
            trips: sides.map(<[Summary]>::len),
            confounders: Vec::new(),
            fuel: FuelAnswer::Unknown,
            if_same_fuel: None,
            warnings: Vec::new(),
        }
    }
}

fn cells(banks: &[(u8, Vec<Matched>, Option<Statement>)]) -> Vec<CellChange> {
    let regions = banks
        .iter()
        .flat_map(|(bank, matched, _)| matched.iter().map(move |m| (*bank, m)));
    let boxes =
        regions.flat_map(|(bank, matched)| matched.boxes.iter().map(move |one| (bank, one)));
    let one = |(bank, one): (u8, &matching::MatchedBox)| {
        let [before, after] = one.mean_log.map(|log| 100.0 * log.exp_m1());
        let [before_seconds, after_seconds] = one.seconds;
        let (region, cell) = one.at;
        CellChange {
            bank,
            region,
            cell,
            before_pct: before,
            after_pct: after,
            before_seconds,
            after_seconds,
        }
    };
    boxes.map(one).collect()
}

/// Banks with fuel trims on both sides.
fn common_banks(sides: [&[Summary]; 2]) -> Vec<u8> {
    let [before, after] = sides.map(|side| {
        let trims = side.iter().flat_map(|summary| &summary.trims);
        trims.map(|trim| trim.bank).collect::<BTreeSet<u8>>()
    });
    before.intersection(&after).copied().collect()
}
