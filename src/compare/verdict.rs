//! The verdict of all statements together.

use super::comparison::{Comparison, Verdict};

/// Better or worse as soon as one statement says so and none says the opposite; no change where every level and every
/// cylinder says so; else inconclusive.
pub fn of(comparison: &Comparison) -> Verdict {
    let levels = comparison.trims.iter().map(|trim| trim.change.verdict);
    let banks = comparison.banks.iter().map(|bank| bank.change.verdict);
    let across = comparison.standing_against_driving.iter();
    let misfires = comparison.misfires.iter().map(|misfires| misfires.verdict);
    let primary: Vec<Verdict> = levels.chain(misfires).collect();
    let quieter = banks.chain(across.map(|change| change.verdict));
    let all: Vec<Verdict> = primary.iter().copied().chain(quieter).collect();
    let says = |verdict| all.contains(&verdict);
    match (says(Verdict::Better), says(Verdict::Worse)) {
        (true, false) => Verdict::Better,
        (false, true) => Verdict::Worse,
        (true, true) => Verdict::CannotTell,
        _ if !comparison.trims.is_empty() && primary.iter().all(|v| *v == Verdict::NoChange) => {
            Verdict::NoChange
        }
        _ => Verdict::CannotTell,
    }
}
