//! How far a trip in progress covers the driving of earlier captures, by the rules that a comparison uses to match
//! them.

use std::collections::BTreeMap;

use crate::series::{
    gather::cell::Cell,
    label::{
        Label,
        region::{ByRegion, Region},
    },
    summary::Summary,
    timeline::course::Second,
};

use super::{
    matching::{LEAST_S, lesser},
    needed::planned_seconds,
    spread::Spread,
    trims::LEAST_S as LEAST_REGION_S,
    trip::{self, Box},
};

/// Share of the earlier time that a trip is asked for: nobody repeats the last cell, and a quarter less widens the
/// standard error within a trip by 15 % (1 / √0.75), which is itself the smaller part.
const AGAIN: f64 = 0.75;

/// Earlier captures and a trip in progress.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// Seconds by box: of all earlier captures, and of the trip so far.
    boxes: BTreeMap<Box, [f64; 2]>,
    /// Seconds to be matched by region, in the order of [`Region::ALL`]; `None` where none are wanted.
    wanted: ByRegion<Option<f64>>,
}

/// A cell of the earlier captures in which the trip in progress has not spent enough time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WantedCell {
    /// Region.
    pub region: Region,
    /// Cell; at a standstill (warm idle and 2500 rpm without load) all loads are one, row 0.
    pub cell: Cell,
    /// Seconds in the cell so far.
    pub seconds: f64,
    /// Seconds wanted in the cell.
    pub wanted_seconds: f64,
}

impl Coverage {
    /// Coverage before the trip begins.
    pub fn of(before: &[Summary]) -> Self {
        let mut boxes: BTreeMap<Box, [f64; 2]> = BTreeMap::new();
        for (at, more) in before.iter().flat_map(trip::box_seconds) {
            let [before, _] = boxes.entry(at).or_default();
            *before += more;
        }
        boxes.retain(|_, [before, _]| *before >= LEAST_S);
        let spread = Spread::of([before, &[]]);
        let mut coverage = Self {
            boxes,
            wanted: ByRegion::default(),
        };
        coverage.wanted = ByRegion::from_fn(|region| {
            let before = coverage.before_seconds(region);
            let wanted = planned_seconds(region, &spread).min(AGAIN * before);
            let wanted = wanted.floor();
            (before >= LEAST_REGION_S).then_some(wanted)
        });
        coverage
    }

    /// Takes the next second of the trip.
    pub fn push(&mut self, second: &Second) {
        let known = second.trim_log.values().any(Option::is_some);
        let (Label::Used, true, Some(region), Some(cell)) =
            (second.label, known, second.region, second.cell)
        else {
            return;
        };
        if let Some([_, now]) = self.boxes.get_mut(&trip::box_of(region, cell)) {
            *now += 1.0;
        }
    }

    /// Seconds of a region that a comparison can match so far.
    pub fn matched_seconds(&self, region: Region) -> f64 {
        self.of_region(region)
            .filter_map(|(_, seconds)| lesser(seconds))
            .fold(0.0, |sum, more| sum + more)
    }

    /// Seconds to be matched in a region; `None` where the earlier captures have too little of it to say anything.
    pub fn wanted_seconds(&self, region: Region) -> Option<f64> {
        self.wanted[region]
    }

    /// Whether more seconds at this place can be matched with earlier ones.
    pub fn can_match(&self, region: Region, cell: Cell) -> bool {
        let known = self.boxes.get(&trip::box_of(region, cell));
        known.is_some_and(|[before, now]| now < before)
    }

    /// The cells to be driven, those with most time left first; none in a region that has been matched long enough.
    pub fn wanted_cells(&self) -> Vec<WantedCell> {
        let mut all: Vec<WantedCell> = Region::ALL
            .into_iter()
            .flat_map(|region| self.wanted_in(region))
            .collect();
        all.sort_by(|one, two| two.left().total_cmp(&one.left()));
        all
    }

    /// The cells to be driven in a region, in the proportions of the earlier captures.
    fn wanted_in(&self, region: Region) -> Vec<WantedCell> {
        let wanted = self.wanted_seconds(region);
        let wanted = wanted.filter(|wanted| self.matched_seconds(region) < *wanted);
        let Some(wanted) = wanted else {
            return Vec::new();
        };
        let share = wanted / self.before_seconds(region);
        let cells = self
            .of_region(region)
            .map(|((region, cell), [before, now])| WantedCell {
                region,
                cell,
                seconds: now,
                wanted_seconds: (share * before).max(LEAST_S),
            });
        cells.filter(|cell| cell.left() > 0.0).collect()
    }

    fn before_seconds(&self, region: Region) -> f64 {
        self.of_region(region).map(|(_, [before, _])| before).sum()
    }

    fn of_region(&self, region: Region) -> impl Iterator<Item = (Box, [f64; 2])> {
        let own = self
            .boxes
            .iter()
            .filter(move |((here, _), _)| *here == region);
        own.map(|(at, seconds)| (*at, *seconds))
    }
}

impl WantedCell {
    fn left(&self) -> f64 {
        self.wanted_seconds - self.seconds
    }
}
