//! Fuel trim in seconds without misfires, separate from the rest.
//!
//! Unburned oxygen of a misfire raises the fuel trim whatever the cause; the trim that remains while no counter moves
//! is the mixture's own. Seconds wait here until the next reading of the counters shows what happened in them.

use crate::{
    bank::{Bank, ByBank},
    series::{
        gather::{estimate::RunningMean, misfire::Round},
        label::region::{ByRegion, Region},
        summary::TrimSummary,
    },
};

/// Largest number of seconds that may wait (a minute per bank; assumed). If counters are read more rarely, no mean is
/// given.
const MOST_WAITING: usize = 60 * Bank::ALL.len();

/// One second of one bank.
#[derive(Debug, Clone, Copy)]
struct PendingSecond {
    bank: Bank,
    region: Region,
    y: f64,
}

/// One bank in one region.
#[derive(Debug, Clone)]
struct MisfireSides {
    without: RunningMean,
    seconds_with: u32,
}

/// Fuel trims by bank and region, separated by whether a counter moved.
#[derive(Debug, Clone, Default)]
pub struct MisfireContrast {
    /// Seconds covered by the round of readings in progress.
    covered: Vec<PendingSecond>,
    /// Seconds since that round began.
    current: Vec<PendingSecond>,
    rounds_begun: bool,
    sides: ByBank<ByRegion<Option<MisfireSides>>>,
}

impl MisfireContrast {
    /// Takes one second of one bank that counts.
    pub fn push(&mut self, bank: Bank, region: Region, y: f64) {
        if self.rounds_begun && self.current.len() < MOST_WAITING {
            self.current.push(PendingSecond { bank, region, y });
        }
    }

    /// Ends a round of readings; the next one begins with this second.
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

    fn assign(&mut self, second: PendingSecond, moved: bool) {
        let sides = self.sides[second.bank][second.region].get_or_insert_with(|| MisfireSides {
            without: RunningMean::of_part(second.region),
            seconds_with: 0,
        });
        if moved {
            sides.seconds_with += 1;
        } else {
            sides.without.push(second.y);
        }
    }

    /// Fills in the means without misfires where seconds with and without misfires were recorded.
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
