//! Result of a comparison: plain values, every difference after − before.

use crate::series::{gather::cell::Cell, label::region::Region};

use super::{
    FuelAnswer,
    confounders::confounder::{Confounder, Forbids},
    spread::Spread,
};

/// Comparison of two sides of captures.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Verdict on the change as a whole.
    pub verdict: Verdict,
    /// Total fuel trim of each bank over all cells common to both sides.
    pub trims: Vec<TrimChange>,
    /// Total fuel trim of each bank in each region common to both sides.
    pub regions: Vec<RegionChange>,
    /// Total fuel trim of each bank in each cell common to both sides, for pictures; a single cell proves nothing.
    pub cells: Vec<CellChange>,
    /// Bank 1 minus each other bank: varies less, as fuel, weather and MAF sensor cancel.
    pub banks: Vec<BankChange>,
    /// Standing minus driving, mean of all banks: varies less, as whatever shifts a whole trip cancels.
    pub standing_against_driving: Option<Change>,
    /// Misfire rates by cylinder.
    pub misfires: Vec<MisfireChange>,
    /// Recordings that would settle the result, when the verdict is [`Verdict::CannotTell`].
    pub needed: Vec<Needed>,
    /// Assumed variation between trips of the unchanged car.
    pub spread: Spread,
    /// The smallest changes that matter.
    pub limits: Limits,
    /// Number of captures on each side, before and after.
    pub trips: [usize; 2],
    /// What could mislead the comparison; what forbids a verdict comes first.
    pub confounders: Vec<Confounder>,
    /// What the user has stated about the fuel.
    pub fuel: FuelAnswer,
    /// The comparison on the assumption of the same fuel, where everything moved alike, a different fuel could have
    /// caused it, and the user has not stated what was added.
    pub if_same_fuel: Option<Box<Comparison>>,
    /// The misleading circumstances in plain sentences, in their order, followed by other notes.
    pub warnings: Vec<String>,
}

impl Comparison {
    /// The sentence that explains why there is no verdict; `None` where there is one.
    pub fn forbidden(&self) -> Option<&str> {
        let first = self.confounders.first()?;
        let blames = self.verdict == Verdict::CannotTell && first.forbids() != Forbids::Nothing;
        self.warnings.first().filter(|_| blames).map(String::as_str)
    }
}

/// The smallest changes that matter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Smallest change of a fuel trim's distance from zero that matters, points (above 0).
    pub trim_points: f64,
    /// Smallest change of a misfire rate that matters, as a factor (above 1; 2 is a halving or doubling).
    pub misfire_factor: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            trim_points: 3.0,
            misfire_factor: 2.0,
        }
    }
}

/// Verdict on a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Towards a sound engine, by as much as matters.
    Better,
    /// Too small to matter.
    NoChange,
    /// Away from a sound engine, by as much as matters.
    Worse,
    /// Inconclusive: the interval is too wide.
    CannotTell,
}

impl Verdict {
    /// The identifier used in machine-readable output.
    pub const fn id(self) -> &'static str {
        match self {
            Self::Better => "better",
            Self::NoChange => "no_change",
            Self::Worse => "worse",
            Self::CannotTell => "cannot_tell",
        }
    }
}

/// A mean fuel trim on both sides, percent; its change with the interval, points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Mean before, percent.
    pub before_pct: f64,
    /// Mean after, percent.
    pub after_pct: f64,
    /// After − before, points.
    pub difference_pct: f64,
    /// Lower end of its interval, points.
    pub low_pct: f64,
    /// Upper end of its interval, points.
    pub high_pct: f64,
    /// Seconds matched: the lesser time of the two sides, summed over cells.
    pub matched_seconds: f64,
    /// Movement towards the fuel trim of a sound engine, points; negative for a movement away. Smaller than the
    /// difference where nothing shows which of the two means is the sounder.
    pub towards_sound_pct: f64,
    /// Verdict: the interval against the smallest change that matters.
    pub verdict: Verdict,
}

impl Change {
    /// The difference between both means, points, rounded so that it agrees with the rounded means.
    pub fn written_difference(&self) -> f64 {
        let tenths = |pct: f64| (10.0 * pct).round();
        (tenths(self.after_pct) - tenths(self.before_pct)) / 10.0
    }

    /// Whether the trim moved by more than the car's normal variation and by as much as matters, while nothing shows
    /// whether that is towards a sound engine.
    pub fn lacks_direction(&self, limits: &Limits) -> bool {
        let moved = self.low_pct > 0.0 || self.high_pct < 0.0;
        let matters = self.difference_pct.abs() >= limits.trim_points;
        moved && matters && self.towards_sound_pct.abs() < limits.trim_points
    }
}

/// Change of the total fuel trim of one bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrimChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Change of the fuel trim.
    pub change: Change,
}

/// Change of the total fuel trim of one bank in one region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegionChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Change of the fuel trim, with an interval for this region alone: it does not allow for several regions.
    pub change: Change,
}

/// Change of the total fuel trim of one bank in one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Cell; at a standstill (warm idle and 2500 rpm without load) all loads are one, row 0.
    pub cell: Cell,
    /// Mean before, percent.
    pub before_pct: f64,
    /// Mean after, percent.
    pub after_pct: f64,
    /// Seconds in the cell before.
    pub before_seconds: f64,
    /// Seconds in the cell after.
    pub after_seconds: f64,
}

/// Change of the fuel trim of bank 1 minus another bank's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankChange {
    /// The other bank, from 2.
    pub other: u8,
    /// Change of the difference.
    pub change: Change,
}

/// Misfires of one cylinder, in the regions common to both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MisfireChange {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Misfires per 1000 revolutions before.
    pub before_per_1000_rev: f64,
    /// Misfires per 1000 revolutions after.
    pub after_per_1000_rev: f64,
    /// Rate after divided by rate before; `None` without misfires before.
    pub rate_ratio: Option<f64>,
    /// Lower end of the ratio's interval.
    pub low: f64,
    /// Upper end of the ratio's interval; `None` where it is unbounded.
    pub high: Option<f64>,
    /// Revolutions before and after, in the regions common to both sides.
    pub revolutions: [f64; 2],
    /// Variance over mean of the counts before and after, each at least 1.
    pub dispersions: [f64; 2],
    /// Region with the most misfires; `None` without any.
    pub region: Option<Region>,
    /// Verdict: the interval against the smallest change that matters.
    pub verdict: Verdict,
}

impl MisfireChange {
    /// Whether there are enough misfires for the ratio to be meaningful: one end of its interval is within a factor of
    /// ten.
    pub fn tells_a_ratio(&self) -> bool {
        self.low > 0.1 || self.high.is_some_and(|high| high < 10.0)
    }
}

/// What has to be recorded on each side that lacks it, to settle the result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// Region; `None` for whole trips.
    pub region: Option<Region>,
    /// Further minutes needed in that region.
    pub more_minutes: f64,
    /// Further trips needed on each side.
    pub more_trips: u32,
}
