//! Fuel trims that are no measurements: all the same to the bit, or one bank's repeated as another's.
//!
//! Some controllers report a constant or a copy for trims that they do not have. A copy of bank 1 would look like
//! perfect agreement of two banks, so it is detected before banks are compared.

use crate::{
    bank::{Bank, ByBank},
    series::timeline::{moment::Moment, quantity::Quantity},
};

/// Seconds of agreement to the bit from which it is no coincidence (assumed).
const ENOUGH_S: u32 = 60;

/// Watches for trims that agree to the bit.
#[derive(Debug, Clone, Default)]
pub struct Alike {
    all: Agreement,
    banks: ByBank<Agreement>,
}

/// How often two or more values agreed to the bit, and whether they ever differed.
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
        let short = ByBank::from_fn(|bank| latest(Quantity::short_trim(bank)));
        let long = ByBank::from_fn(|bank| latest(Quantity::long_trim(bank)));
        let mut known = short.into_values().chain(long.into_values()).flatten();
        if let Some(first) = known.next()
            && let Some(same) = known.map(|trim| trim == first).reduce(|a, b| a && b)
        {
            self.all.note(same);
        }
        let first = (short[Bank::One], long[Bank::One]);
        for (bank, agreement) in self.banks.iter_mut().skip(1) {
            if short[bank].is_some() && first.0.is_some() {
                agreement.note((short[bank], long[bank]) == first);
            }
        }
    }

    /// Whether all trims of all banks always agreed to the bit.
    pub fn all(&self) -> bool {
        self.all.holds()
    }

    /// The banks (from 2) whose trims repeat bank 1's to the bit.
    pub fn copies(&self) -> impl Iterator<Item = u8> {
        let copied = self.banks.iter().filter(|(_, agreement)| agreement.holds());
        copied.map(|(bank, _)| bank.number())
    }
}
