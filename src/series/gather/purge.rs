//! Fuel trim with purge commanded open and shut, region by region: close in time, so the difference varies less than
//! the level.

use crate::series::{
    gather::estimate::RunningMean,
    label::region::{ByRegion, Region},
    summary::PurgeContrast,
    timeline::{moment::Moment, quantity::Quantity},
};

/// Command up to which the purge valve counts as shut, percent: one step of the published scaling.
const SHUT_PCT: f64 = 0.5;
/// Command from which the purge valve counts as open, percent (common practice: less hardly moves any air).
const OPEN_PCT: f64 = 4.0;
/// Seconds within which the fuel trim follows the valve (common practice: vapour's way to the cylinders, the trim's
/// ramp).
const FOLLOWS_S: u64 = 8;
/// Gap in seconds beyond which seconds of the same command are separate stretches (assumed).
const GAP_S: u64 = 5;

/// One region.
#[derive(Debug, Clone)]
struct PurgeSides {
    shut: RunningMean,
    open: RunningMean,
}

/// Fuel trims by region and purge command.
#[derive(Debug, Clone, Default)]
pub struct PurgeWatch {
    open: Option<bool>,
    since: u64,
    last: u64,
    sides: ByRegion<Option<PurgeSides>>,
}

impl PurgeWatch {
    /// Takes a moment that counts, with the mean of y over its banks.
    pub fn push(&mut self, moment: &Moment, region: Region, y: f64) {
        let purge = moment.get(Quantity::Purge);
        let open = purge.and_then(|pct| match pct {
            shut if shut <= SHUT_PCT => Some(false),
            open if open >= OPEN_PCT => Some(true),
            _ => None,
        });
        if open != self.open || moment.second > self.last + GAP_S {
            self.since = moment.second;
        }
        (self.open, self.last) = (open, moment.second);
        let Some(open) = open else {
            return;
        };
        if moment.second < self.since + FOLLOWS_S {
            return;
        }
        let sides = self.sides[region].get_or_insert_with(|| PurgeSides {
            shut: RunningMean::of_part(region),
            open: RunningMean::of_part(region),
        });
        if open {
            sides.open.push(y);
        } else {
            sides.shut.push(y);
        }
    }

    /// Contrasts of the regions in which open and shut were both recorded.
    pub fn summary(&self) -> Vec<PurgeContrast> {
        let contrasts = self.sides.iter().filter_map(|(region, sides)| {
            let sides = sides.as_ref()?;
            let (shut, open) = (sides.shut.estimate()?, sides.open.estimate()?);
            Some(PurgeContrast {
                region,
                open_less_shut_log: open.mean_log - shut.mean_log,
                std_error_log: open.std_error_log.hypot(shut.std_error_log),
                open_seconds: open.seconds,
                shut_seconds: shut.seconds,
            })
        });
        contrasts.collect()
    }
}
