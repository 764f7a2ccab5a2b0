//! Trims that are no measurements: all the same to the bit, or one bank's repeated as another's.
//!
//! Some controllers fill in trims that they do not have with a constant, or with a copy. A copy of bank 1 would look
//! like perfect agreement of two banks, so it must be found out before banks are compared.

use crate::series::{
    gather::fuel_trim::BANKS, timeline::moment::Moment, timeline::quantity::Quantity,
};

/// Seconds of agreement to the bit before it is no coincidence.
const ENOUGH_S: u32 = 60;

/// Watches for trims that agree to the bit.
#[derive(Debug, Clone, Default)]
pub struct Alike {
    all: Agreement,
    banks: [Agreement; BANKS],
}

/// How often two or more values were the same, and whether they ever were not.
#[derive(Debug, Clone, Copy, Default)]
struct Agreement {
    seconds: u32,
    broken: bool,
}

impl Agreement {
    fn note(&mut self, same: bool) {
        self.seconds += u32::from(same);
        self.broken |= !same;
    }

    fn holds(self) -> bool {
        !self.broken && self.seconds >= ENOUGH_S
    }
}

impl Alike {
    /// Takes a moment in which the engine runs.
    pub fn push(&mut self, moment: &Moment) {
        let latest = |quantity| moment.known(quantity).map(|known| known.last);
        let short = Quantity::SHORT_TRIMS.map(latest);
        let long = Quantity::LONG_TRIMS.map(latest);
        let mut known = short.into_iter().chain(long).flatten();
        if let Some(first) = known.next()
            && let Some(same) = known.map(|trim| trim == first).reduce(|a, b| a && b)
        {
            self.all.note(same);
        }
        let [first_short, ..] = short;
        let [first_long, ..] = long;
        let pairs = short.into_iter().zip(long);
        for (agreement, (short, long)) in self.banks.iter_mut().zip(pairs).skip(1) {
            if short.is_some() && first_short.is_some() {
                agreement.note(short == first_short && long == first_long);
            }
        }
    }

    /// All trims of all banks were the same to the bit, always.
    pub fn all(&self) -> bool {
        self.all.holds()
    }

    /// The banks (from 2) whose trims repeat bank 1's to the bit.
    pub fn copies(&self) -> impl Iterator<Item = u8> {
        let numbered = (1..).zip(&self.banks);
        numbered.filter_map(|(bank, agreement)| agreement.holds().then_some(bank))
    }
}
