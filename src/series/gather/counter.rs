//! One cylinder's misfire counter: increments, the regions they belong to, their spread.

use crate::series::{
    gather::confirmation::Confirmation,
    label::region::{ByPart, ByRegion, Part},
    summary::CylinderMisfires,
};

/// Largest value of a two-byte counter.
pub const COUNTER_END: f64 = 65_535.0;
/// Revolutions in one stretch over which bursts are judged: the regulation's own block (13 CCR 1968.2 (e)(3)).
const STRETCH_REVOLUTIONS: f64 = 1000.0;
/// Largest distance, in revolutions, between readings that show whether a counter moves in blocks. The smallest blocks
/// are 200 revolutions (13 CCR 1968.2 (e)(3)): such a counter never moves at two such readings in a row, but by several
/// counts at once.
pub const CLOSE_REVOLUTIONS: f64 = 100.0;
/// Moves from which a counter's way of moving can be judged (assumed).
const BLOCK_MOVES: u32 = 4;
/// Mean counts per move from which a counter moves in blocks (assumed).
const BLOCK_COUNTS: f64 = 3.0;
/// One move in this many may directly follow another even on a counter that moves in blocks: a late answer, unseen
/// revolutions (assumed).
const MOVES_FOR_ONE_TWICE: u32 = 10;
/// One cylinder's counter.
#[derive(Debug, Clone, Default)]
pub struct Counter {
    value: Option<f64>,
    epoch: u32,
    turned: ByPart<f64>,
    /// Largest value read.
    pub high: f64,
    /// Highest average of the last ten driving cycles that was read.
    pub average_of_ten: Option<f64>,
    by_interval: ByPart<f64>,
    /// Counts by region as of the counter's previous movement.
    pub by_block: ByPart<f64>,
    bursts: ByPart<Bursts>,
    /// Number of resets.
    pub resets: u32,
    /// Movement between readings close to each other.
    pub close: CloseReadings,
    /// Readings that wait for confirmation.
    pub confirmation: Confirmation,
}

/// Spread of counts over stretches of revolutions in one region.
#[derive(Debug, Clone, Default)]
struct Bursts {
    open_counts: f64,
    open_revolutions: f64,
    stretches: u32,
    counts: f64,
    revolutions: f64,
    squares_per_revolution: f64,
}

/// How one counter moves from one reading to another close to it.
#[derive(Debug, Clone, Default)]
pub struct CloseReadings {
    moves: u32,
    counts: f64,
    /// Whether the counter moved at the reading before, which was close to the one before that.
    moved_before: bool,
    twice: u32,
}

impl Counter {
    /// Takes the counter's new value; returns the increment since the previous reading, where it is known.
    pub fn advance(&mut self, value: f64, epoch: u32, turned: &ByPart<f64>) -> Option<f64> {
        let before = self.value.replace(value);
        self.resets += u32::from(before.is_some_and(|before| value < before));
        let before = before.filter(|_| self.epoch == epoch);
        let since = difference(turned, &self.turned);
        self.epoch = epoch;
        self.turned = *turned;
        self.high = self.high.max(value);
        let before = before.filter(|before| *before < COUNTER_END)?;
        // a smaller value: the counter was reset and has counted this much since
        let increment = if value >= before {
            value - before
        } else {
            value
        };
        self.close.note(increment, since.values().sum());
        let mut shares = ByPart::default();
        share_out(&mut shares, increment, &since);
        for (part, share) in shares {
            self.by_interval[part] += share;
            self.bursts[part].note(share, since[part]);
        }
        Some(increment)
    }

    /// Summary of the counter, with counts attributed by blocks or by intervals.
    pub fn summary(&self, cylinder: u8, blocks: bool) -> CylinderMisfires {
        let counts = if blocks {
            &self.by_block
        } else {
            &self.by_interval
        };
        CylinderMisfires {
            cylinder,
            count: counts.values().sum(),
            count_by_region: in_regions(counts),
            average_of_ten: self.average_of_ten,
            counter_high: self.high,
            dispersion: dispersion(&self.bursts),
        }
    }
}

impl CloseReadings {
    fn note(&mut self, increment: f64, revolutions: f64) {
        let moved = revolutions <= CLOSE_REVOLUTIONS && increment > 0.0;
        if moved {
            self.moves += 1;
            self.counts += increment;
            self.twice += u32::from(self.moved_before);
        }
        self.moved_before = moved;
    }

    /// Whether the counter moved at readings that lie closer together than any block is long.
    pub fn counts_at_once(&self) -> bool {
        self.twice > 0 && !self.in_blocks()
    }

    /// Whether the counter moves in blocks of revolutions.
    pub fn in_blocks(&self) -> bool {
        MOVES_FOR_ONE_TWICE * self.twice <= self.moves
            && self.moves >= BLOCK_MOVES
            && self.counts >= BLOCK_COUNTS * f64::from(self.moves)
    }
}

impl Bursts {
    fn note(&mut self, counts: f64, revolutions: f64) {
        self.open_counts += counts;
        self.open_revolutions += revolutions;
        if self.open_revolutions >= STRETCH_REVOLUTIONS {
            self.stretches += 1;
            self.counts += self.open_counts;
            self.revolutions += self.open_revolutions;
            self.squares_per_revolution += self.open_counts.powi(2) / self.open_revolutions;
            self.open_counts = 0.0;
            self.open_revolutions = 0.0;
        }
    }

    /// Pearson's chi-squared statistic against one constant rate, with its degrees of freedom.
    fn pearson(&self) -> (f64, f64) {
        if self.stretches < 2 || self.counts <= 0.0 {
            return (0.0, 0.0);
        }
        let rate = self.counts / self.revolutions;
        let squares = self.squares_per_revolution - self.counts * rate;
        (squares / rate, f64::from(self.stretches - 1))
    }
}

/// Pearson's statistic over its degrees of freedom, pooled over the regions, each with a rate of its own; at least 1.
fn dispersion(parts: &ByPart<Bursts>) -> f64 {
    let pooled = parts.values().map(Bursts::pearson);
    let (squares, degrees_of_freedom) =
        pooled.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    if degrees_of_freedom > 0.0 {
        (squares / degrees_of_freedom).max(1.0)
    } else {
        1.0
    }
}

/// What was added by region between two readings.
pub fn difference(now: &ByPart<f64>, before: &ByPart<f64>) -> ByPart<f64> {
    now.map(|part, now| now - before[part])
}

/// Distributes counts over the regions by revolutions; without revolutions they stay outside every region.
pub fn share_out(counts: &mut ByPart<f64>, increment: f64, turned: &ByPart<f64>) {
    let total: f64 = turned.values().sum();
    if total > 0.0 {
        for (part, turned) in turned {
            counts[part] += increment * turned / total;
        }
    } else {
        counts[Part::Outside] += increment;
    }
}

/// The values of the regions, without the entry outside every region.
pub fn in_regions(values: &ByPart<f64>) -> ByRegion<f64> {
    ByRegion::from_fn(|region| values[Part::In(region)])
}
