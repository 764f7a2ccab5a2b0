//! Verdicts counted.

use pintle::compare::{Comparison, Confounder, Verdict};

/// How many comparisons said what.
#[derive(Debug, Default)]
pub struct Tally {
    pub pairs: usize,
    pub better: usize,
    pub worse: usize,
    pub no_change: usize,
    /// Corrections were matched.
    pub matched: usize,
    /// Taken back as a refuelling.
    pub refuelled: usize,
    /// Which statements were called better or worse: level, banks, standing against driving, misfires.
    pub by: [usize; 4],
}

impl Tally {
    pub fn of<'a>(all: impl IntoIterator<Item = &'a Comparison>) -> Self {
        let mut tally = Self::default();
        for comparison in all {
            tally.add(comparison);
        }
        tally
    }

    pub fn add(&mut self, comparison: &Comparison) {
        self.pairs += 1;
        self.matched += usize::from(!comparison.trims.is_empty());
        self.refuelled += usize::from(comparison.confounders.contains(&Confounder::Refuelled));
        match comparison.verdict {
            Verdict::Better => self.better += 1,
            Verdict::Worse => self.worse += 1,
            Verdict::NoChange => self.no_change += 1,
            Verdict::CannotTell => {}
        }
        let decides = |verdict: Verdict| matches!(verdict, Verdict::Better | Verdict::Worse);
        let said = [
            comparison
                .trims
                .iter()
                .any(|trim| decides(trim.change.verdict)),
            comparison
                .banks
                .iter()
                .any(|bank| decides(bank.change.verdict)),
            comparison
                .standing_against_driving
                .iter()
                .any(|change| decides(change.verdict)),
            comparison
                .misfires
                .iter()
                .any(|misfires| decides(misfires.verdict)),
        ];
        for (count, said) in self.by.iter_mut().zip(said) {
            *count += usize::from(said);
        }
    }

    pub fn print(&self, name: &str) {
        let share = |count: usize| 100.0 * count as f64 / self.pairs.max(1) as f64;
        let [levels, banks, across, misfires] = self.by.map(share);
        println!(
            "{name:46} {:6} pairs  better {:5.1} %  worse {:5.1} %  together {:5.1} %  no change {:4.1} %  matched {:5.1} %  \
             named refuelled {:4.1} %  (levels {levels:.1}, banks {banks:.1}, standing {across:.1}, misfires {misfires:.1})",
            self.pairs,
            share(self.better),
            share(self.worse),
            share(self.better + self.worse),
            share(self.no_change),
            share(self.matched),
            share(self.refuelled),
        );
    }
}
