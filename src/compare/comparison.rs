//! What comes of a comparison: plain values, every difference after − before.

use crate::series::{gather::cell::Cell, label::region::Region};

use super::{
    FuelAnswer,
    deceptions::deception::{Deception, Forbids},
    spread::Spread,
};

/// Two sides of captures held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What can be said of the change as a whole.
    pub verdict: Verdict,
    /// Total correction of each bank over all cells that both sides visited.
    pub trims: Vec<TrimChange>,
    /// The same region by region.
    pub regions: Vec<RegionChange>,
    /// The same cell by cell, for pictures; a single cell proves nothing.
    pub cells: Vec<CellChange>,
    /// Bank 1 minus each other bank: quieter, as fuel, weather and air meter cancel.
    pub banks: Vec<BankChange>,
    /// Standing minus driving, mean of all banks: quieter, as what shifts a whole trip cancels.
    pub standing_against_driving: Option<Change>,
    /// Misfire rates by cylinder.
    pub misfires: Vec<MisfireChange>,
    /// What would settle it, when the verdict is [`Verdict::CannotTell`].
    pub needed: Vec<Needed>,
    /// How far trips of the unchanged car are taken to wander.
    pub spread: Spread,
    /// The smallest changes that matter.
    pub limits: Limits,
    /// Captures on each side, before and after.
    pub trips: [usize; 2],
    /// What could deceive; what forbids a verdict comes first.
    pub deceptions: Vec<Deception>,
    /// What somebody has said of the fuel.
    pub fuel: FuelAnswer,
    /// What could be said if the fuel is the same, where everything moved alike, another fuel could have done it, and nobody
    /// has said what was filled in.
    pub if_same_fuel: Option<Box<Comparison>>,
    /// The deceptions in plain sentences, in the same order, and whatever else is to be minded.
    pub warnings: Vec<String>,
}

impl Comparison {
    /// The sentence of the deception that leaves no verdict, if there is one.
    pub fn forbidden(&self) -> Option<&str> {
        let first = self.deceptions.first()?;
        let blames = self.verdict == Verdict::CannotTell && first.forbids() != Forbids::Nothing;
        self.warnings.first().filter(|_| blames).map(String::as_str)
    }
}

/// The smallest changes that matter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Of the distance of a correction from zero, points (above 0).
    pub trim_points: f64,
    /// Of a misfire rate: so many times fewer or more (above 1; 2 is a halving or doubling).
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

/// What can be said of a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Towards what a sound engine does, by as much as matters.
    Better,
    /// Less than matters.
    NoChange,
    /// Away from it, by as much as matters.
    Worse,
    /// The doubt is too large.
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

/// A mean correction on both sides, percent; its change with the interval, points.
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
    /// Seconds matched: the lesser time of both sides, summed over cells.
    pub matched_seconds: f64,
    /// How far it moved towards what sound engines show, points; negative away from it. Less than the difference where
    /// nothing tells which of both ends is the sounder.
    pub towards_sound_pct: f64,
    /// What the interval says against the smallest change that matters.
    pub verdict: Verdict,
}

impl Change {
    /// The difference of both means as people read them, in tenths of a point: one that both rounded ends bear out.
    pub fn written_difference(&self) -> f64 {
        let tenths = |pct: f64| (10.0 * pct).round();
        (tenths(self.after_pct) - tenths(self.before_pct)) / 10.0
    }

    /// It moved by more than an unchanged car does and by as much as matters, but nothing tells whether towards what sound
    /// engines show.
    pub fn lacks_direction(&self, limits: &Limits) -> bool {
        let moved = self.low_pct > 0.0 || self.high_pct < 0.0;
        let matters = self.difference_pct.abs() >= limits.trim_points;
        moved && matters && self.towards_sound_pct.abs() < limits.trim_points
    }
}

/// Total correction of one bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrimChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Its change.
    pub change: Change,
}

/// Total correction of one bank in one region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegionChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Its change; looked at alone, without allowing for having looked at several.
    pub change: Change,
}

/// Total correction of one bank in one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellChange {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Cell; at a stand (warm and raised idle) all loads are one, row 0.
    pub cell: Cell,
    /// Mean before, percent.
    pub before_pct: f64,
    /// Mean after, percent.
    pub after_pct: f64,
    /// Seconds before.
    pub before_seconds: f64,
    /// Seconds after.
    pub after_seconds: f64,
}

/// Bank 1 minus another bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankChange {
    /// The other bank, from 2.
    pub other: u8,
    /// Change of the difference.
    pub change: Change,
}

/// Misfires of one cylinder, in the regions that both sides visited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MisfireChange {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Misfires in 1000 revolutions before.
    pub before_per_1000_rev: f64,
    /// Misfires in 1000 revolutions after.
    pub after_per_1000_rev: f64,
    /// Rate after over rate before; `None` when there were none before.
    pub rate_ratio: Option<f64>,
    /// Lower end of its interval.
    pub low: f64,
    /// Upper end of its interval; `None` when it has none.
    pub high: Option<f64>,
    /// Revolutions before and after, in the regions that both sides visited.
    pub revolutions: [f64; 2],
    /// Variance over mean of the counts before and after, at least 1.
    pub dispersions: [f64; 2],
    /// The region in which most were counted; `None` without any.
    pub region: Option<Region>,
    /// What the interval says against the smallest change that matters.
    pub verdict: Verdict,
}

impl MisfireChange {
    /// There are enough misfires for a ratio to say something: one end of its interval is within ten times.
    pub fn tells_a_ratio(&self) -> bool {
        self.low > 0.1 || self.high.is_some_and(|high| high < 10.0)
    }
}

/// What more is to be recorded on each side that lacks it, to settle it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// Region; `None` for whole trips.
    pub region: Option<Region>,
    /// Minutes more in that region.
    pub more_minutes: f64,
    /// Trips more a side.
    pub more_trips: u32,
}
