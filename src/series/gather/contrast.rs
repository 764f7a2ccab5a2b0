//! The correction while nothing misfired, apart from the rest.
//!
//! Unburned oxygen of a misfire drives the correction up whatever the cause; what remains while no counter moves is
//! the mixture's own. Seconds wait here until the next reading of the counters says what happened in them.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::estimate::RunningMean,
        gather::misfire::Round,
        label::region::{ByRegion, Region},
        summary::TrimSummary,
    },
};

/// Seconds that may wait; if counters are read more rarely, nothing can be said.
const MOST_WAITING: usize = 60 * Bank::ALL.len();

/// One second of one bank.
#[derive(Debug, Clone, Copy)]
struct Second {
    bank: Bank,
    region: Region,
    y: f64,
}

/// One bank in one region.
#[derive(Debug, Clone)]
struct Sides {
    without: RunningMean,
    seconds_with: u32,
}

/// Corrections by bank and region, apart by whether something misfired.
#[derive(Debug, Clone, Default)]
pub struct MisfireContrast {
    /// Seconds covered by the round of readings in progress.
    covered: Vec<Second>,
    /// Seconds since that round began.
    current: Vec<Second>,
    rounds_begun: bool,
    sides: ByBank<ByRegion<Option<Sides>>>,
}

impl MisfireContrast {
    /// Takes one second of one bank that counts.
    pub fn push(&mut self, bank: Bank, region: Region, y: f64) {
        if self.rounds_begun && self.current.len() < MOST_WAITING {
            self.current.push(Second { bank, region, y });
        }
    }

    /// A round of readings ended and the next began with this second.
    pub fn settle(&mut self, round: Round) {
        let covered = std::mem::replace(&mut self.covered, std::mem::take(&mut self.current));
        self.rounds_begun = true;
        if covered.len() >= MOST_WAITING {
            return;
        }
        for second in covered {
            self.assign(second, round.moved);
        }
    }

    fn assign(&mut self, second: Second, moved: bool) {
        let sides = self.sides[second.bank][second.region].get_or_insert_with(|| Sides {
            without: RunningMean::of_part(second.region),
            seconds_with: 0,
        });
        if moved {
            sides.seconds_with += 1;
        } else {
            sides.without.push(second.y);
        }
    }

    /// Fills in the means without misfires where seconds with and without them were seen.
    pub fn complete(&self, trims: &mut [TrimSummary]) {
        for trim in trims {
            let sides =
                Bank::numbered(trim.bank).and_then(|bank| self.sides[bank][trim.region].as_ref());
            trim.without_misfire = sides
                .filter(|sides| sides.seconds_with > 0)
                .and_then(|sides| sides.without.estimate())
                .map(|estimate| (estimate.mean_log, estimate.std_error_log));
        }
    }
}
