//! When a fault can be seen at all: when what it truly does stands clear of what healthy cars of this bench differ by anyway.
//!
//! Measured on the healthy cars: how far they lie apart in the level of each region, in the difference of two regions and in
//! the difference of two banks. An effect is clear that moves one of these, where it was recorded, by two of its spreads; or
//! misfires that are clear of the random ones of healthy engines.

use pintle::series::{
    label::region::Region,
    summary::{Summary, TrimSummary},
};

use crate::{case::Case, loggers::Counters};

/// A region counts when it was recorded for so long, s.
const RECORDED_S: f64 = 60.0;
/// An effect is clear from so many spreads of healthy cars on.
const CLEAR_SPREADS: f64 = 2.0;
/// Misfires of a cylinder are clear from so many in 1000 revolutions on (healthy ones of this bench reach 0.15), if so many
/// are to be expected while counters were watched.
const CLEAR_PER_1000_REV: f64 = 1.0;
const CLEAR_COUNT: f64 = 10.0;
/// A cylinder fires every second revolution.
const FIRINGS_PER_REV: f64 = 0.5;

/// Mean and standard deviation.
#[derive(Debug, Clone, Copy)]
pub struct Spread {
    pub mean: f64,
    pub deviation: f64,
}

/// What healthy cars of the bench differ by, as natural logarithms of the correction.
pub struct Healthy {
    pub levels: [Spread; 4],
    /// Of two regions, the first less the second; only the upper triangle is filled.
    pub contrasts: [[Spread; 4]; 4],
    pub banks: [Spread; 4],
}

impl Healthy {
    /// Measures them.
    pub fn measured(healthy: &[Case]) -> Self {
        let spread = |value: &dyn Fn(&Case) -> Option<f64>| {
            Spread::of(&healthy.iter().filter_map(value).collect::<Vec<f64>>())
        };
        let level = |case: &Case, region: Region| mean(case, 1, region);
        Self {
            levels: Region::ALL.map(|region| spread(&|case| level(case, region))),
            contrasts: Region::ALL.map(|one| {
                Region::ALL
                    .map(|other| spread(&|case| Some(level(case, one)? - level(case, other)?)))
            }),
            banks: Region::ALL.map(|region| {
                spread(&|case| Some(mean(case, 1, region)? - mean(case, 2, region)?))
            }),
        }
    }

    /// Whether the fault of a case can be seen on what was recorded.
    pub fn can_see(&self, case: &Case) -> bool {
        self.clearness(case) >= 1.0
    }

    /// Effect over what is clear, the largest of all that was recorded.
    fn clearness(&self, case: &Case) -> f64 {
        let recorded = (0..4).filter(|region| case.recorded_s[*region] >= RECORDED_S);
        let recorded: Vec<usize> = recorded.collect();
        let effect = &case.effect.trim_log;
        let clear = |by: f64, spread: Spread| by.abs() / (CLEAR_SPREADS * spread.deviation);
        let mut all = vec![misfires(case)];
        for here in &recorded {
            let one = effect[0][*here];
            all.extend(
                effect
                    .iter()
                    .map(|bank| clear(bank[*here], self.levels[*here])),
            );
            let parted = effect.iter().skip(1).map(|bank| one - bank[*here]);
            all.extend(parted.map(|by| clear(by, self.banks[*here])));
            for there in recorded.iter().filter(|there| *there > here) {
                let turned = effect.iter().map(|bank| bank[*here] - bank[*there]);
                all.extend(turned.map(|by| clear(by, self.contrasts[*here][*there])));
            }
        }
        all.into_iter().fold(0.0, f64::max)
    }

    /// Says what was measured and what is called visible.
    pub fn print(&self) {
        let points = |log: f64| 100.0 * log;
        println!(
            "\nhealthy cars of this bench, correction in points: mean and standard deviation by region"
        );
        for (place, region) in Region::ALL.into_iter().enumerate() {
            let level = self.levels[place];
            println!(
                "{:14} {:+5.1} {:4.1}   bank 1 less bank 2 {:4.1}",
                region.id(),
                points(level.mean),
                points(level.deviation),
                points(self.banks[place].deviation),
            );
        }
        for (one, other) in [(0, 1), (0, 2), (0, 3), (2, 3)] {
            let contrast = self.contrasts[one][other];
            println!(
                "{} less {}: {:+.1} {:.1}",
                Region::ALL[one].id(),
                Region::ALL[other].id(),
                points(contrast.mean),
                points(contrast.deviation)
            );
        }
        println!(
            "visible: what the fault truly does moves the level of a region, the difference of two regions or of the banks, \
             each recorded for {RECORDED_S:.0} s, by {CLEAR_SPREADS:.0} of these standard deviations; or a cylinder misfires \
             {CLEAR_PER_1000_REV:.0} times or more in 1000 revolutions, {CLEAR_COUNT:.0} times or more while counters that \
             count were watched"
        );
    }
}

impl Spread {
    fn of(values: &[f64]) -> Self {
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let squares = values.iter().map(|value| (value - mean).powi(2));
        Self {
            mean,
            deviation: (squares.sum::<f64>() / (count - 1.0)).sqrt(),
        }
    }
}

/// Misfires against what is clear.
fn misfires(case: &Case) -> f64 {
    let rates = case.effect.failing.map(|share| FIRINGS_PER_REV * share);
    match case.counters {
        Counters::Absent | Counters::NeverMove => 0.0,
        Counters::OnlyAverages => {
            rates.iter().fold(0.0, |most, rate| f64::max(most, *rate)) * 1e3 / CLEAR_PER_1000_REV
        }
        Counters::Live => {
            let regions = rates.iter().zip(&case.watched_rev);
            let clear = regions.map(|(rate, revolutions)| {
                (1e3 * rate / CLEAR_PER_1000_REV).min(rate * revolutions / CLEAR_COUNT)
            });
            clear.fold(0.0, f64::max)
        }
    }
}

/// Mean correction of a bank over all captures in which a minute or more counted.
fn mean(case: &Case, bank: u8, region: Region) -> Option<f64> {
    let trims = case
        .summaries
        .iter()
        .flat_map(|summary: &Summary| &summary.trims);
    let meant = |trim: &&TrimSummary| (trim.bank, trim.region) == (bank, region);
    let here = trims
        .filter(meant)
        .filter(|trim| trim.seconds >= RECORDED_S);
    let (sum, seconds) = here.fold((0.0, 0.0), |(sum, seconds), trim| {
        (sum + trim.seconds * trim.mean_log, seconds + trim.seconds)
    });
    (seconds > 0.0).then(|| sum / seconds)
}
