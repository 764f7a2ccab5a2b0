//! Whether long term trim is still settling after codes were cleared.
//!
//! Time alone does not decide: one car begins to learn at once, another only after a quarter of an hour. Learning is
//! over in a region when the long term trim has begun to move at all and no longer shows a trend there.

use crate::bank::Bank;
use std::collections::VecDeque;

use crate::statistics::regression::slope;

use crate::series::{
    label::region::{ByRegion, Region},
    timeline::{moment::Moment, quantity::Quantity},
};

/// Engine minutes since clearing beyond which the clearing no longer matters (assumed).
const RECENT_MIN: f64 = 600.0;
/// Warm-ups since clearing beyond which the clearing no longer matters, for a car that does not report minutes
/// (assumed).
const RECENT_WARM_UPS: f64 = 15.0;
/// Distance since clearing beyond which the clearing no longer matters, km, for a car that reports neither minutes nor
/// warm-ups (assumed).
const RECENT_KM: f64 = 150.0;
/// Engine minutes since clearing beyond which a region that is not well known counts as settled (assumed).
pub const SOON_MIN: f64 = 60.0;
/// Warm-ups since clearing beyond which a region that is not well known counts as settled (assumed).
const SOON_WARM_UPS: f64 = 2.0;
/// Distance since clearing beyond which a region that is not well known counts as settled, km (assumed).
const SOON_KM: f64 = 40.0;

/// Seconds in one piece of a region's course (assumed).
const PIECE_S: u32 = 30;
/// Number of pieces considered for a trend (assumed).
const PIECES: usize = 8;
/// Number of pieces needed to judge a trend (assumed).
const ENOUGH_PIECES: usize = 4;
/// Seconds that a region must be recorded before it can count as settled.
pub const STEADY_S: u32 = PIECE_S * ENOUGH_PIECES as u32;
/// Trend within [`TREND_S`] above which long term trim is still settling, percent (assumed).
const TREND_PCT: f64 = 1.0;
/// Time over which [`TREND_PCT`] is judged, s (assumed).
const TREND_S: f64 = 300.0;
/// Standard errors below which a trend counts as none (about 95 %).
const TREND_ERRORS: f64 = 2.0;

/// How long ago codes were cleared.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum Cleared {
    /// Long ago, or the car does not report it.
    #[default]
    LongAgo,
    /// Long enough ago that most cars have learned.
    Recently,
    /// So recently that learning must be expected.
    JustNow,
}

/// Follows the long term trim after a clearing.
#[derive(Debug, Clone, Default)]
pub struct Relearn {
    /// Latest report of the clearing; cars are asked rarely.
    cleared: Cleared,
    /// Whether the long term trim was seen away from 0.
    begun: bool,
    regions: ByRegion<LongTrimCourse>,
}

/// The course of the long term trim in one region.
#[derive(Debug, Clone, Default)]
struct LongTrimCourse {
    pieces: VecDeque<(f64, f64)>,
    time: f64,
    sum: f64,
    count: u32,
    settled: bool,
}

impl Relearn {
    /// Takes a moment that would count; returns true while the long term trim is still settling.
    pub fn is_settling(&mut self, moment: &Moment, region: Option<Region>) -> bool {
        self.cleared = cleared(moment).unwrap_or(self.cleared);
        let Some(long) = mean_long_trim(moment) else {
            return false;
        };
        if self.cleared == Cleared::LongAgo {
            return false;
        }
        self.begun |= long != 0.0;
        let Some(course) = region.map(|region| &mut self.regions[region]) else {
            return self.cleared == Cleared::JustNow && !self.all_settled();
        };
        if self.begun {
            course.push(moment.second as f64, long);
        }
        match course.settled() {
            Some(settled) => !settled,
            None => self.cleared == Cleared::JustNow || !self.begun,
        }
    }

    fn all_settled(&self) -> bool {
        let mut visited = self.regions.values().filter(|c| !c.pieces.is_empty());
        visited.all(|course| course.settled)
    }
}

impl LongTrimCourse {
    fn push(&mut self, second: f64, long: f64) {
        self.time += second;
        self.sum += long;
        self.count += 1;
        if self.count < PIECE_S {
            return;
        }
        let count = f64::from(self.count);
        self.pieces.push_back((self.time / count, self.sum / count));
        if self.pieces.len() > PIECES {
            self.pieces.pop_front();
        }
        (self.time, self.sum, self.count) = (0.0, 0.0, 0);
        self.settled |= self.pieces.len() >= ENOUGH_PIECES && !self.has_trend();
    }

    fn has_trend(&self) -> bool {
        let points: Vec<(f64, f64)> = self.pieces.iter().copied().collect();
        slope(&points).is_some_and(|(slope, error)| {
            slope.abs() * TREND_S > TREND_PCT && slope.abs() > TREND_ERRORS * error
        })
    }

    fn settled(&self) -> Option<bool> {
        let known = self.settled || self.pieces.len() >= ENOUGH_PIECES;
        known.then_some(self.settled)
    }
}

/// How long ago codes were cleared, by minutes where the car reports them, else warm-ups, else distance; `None` where
/// it reports none.
fn cleared(moment: &Moment) -> Option<Cleared> {
    let by = |quantity, recent, soon| {
        let since = moment.get(quantity)?;
        Some(if since > recent {
            Cleared::LongAgo
        } else if since > soon {
            Cleared::Recently
        } else {
            Cleared::JustNow
        })
    };
    by(Quantity::TimeSinceClear, RECENT_MIN, SOON_MIN)
        .or_else(|| by(Quantity::WarmUpsSinceClear, RECENT_WARM_UPS, SOON_WARM_UPS))
        .or_else(|| by(Quantity::DistanceSinceClear, RECENT_KM, SOON_KM))
}

fn mean_long_trim(moment: &Moment) -> Option<f64> {
    let known = Bank::ALL
        .map(Quantity::long_trim)
        .map(|quantity| moment.get(quantity));
    let (sum, count) = known
        .into_iter()
        .flatten()
        .fold((0.0, 0.0), |(sum, count), long| (sum + long, count + 1.0));
    (count > 0.0).then(|| sum / count)
}
