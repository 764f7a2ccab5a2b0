//! A bank of cylinders: those that share an oxygen sensor.

use enum_map::{Enum, EnumMap};

/// A bank; the standard knows four (SAE J1979, PIDs 06–09 and 55–58).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Enum)]
pub enum Bank {
    /// Bank 1, which holds cylinder 1.
    #[default]
    One,
    /// Bank 2.
    Two,
    /// Bank 3.
    Three,
    /// Bank 4.
    Four,
}

/// A value for each bank.
pub type ByBank<T> = EnumMap<Bank, T>;

impl Bank {
    /// Every bank, bank 1 first.
    pub const ALL: [Self; 4] = [Self::One, Self::Two, Self::Three, Self::Four];

    /// The bank of this number, from 1; `None` for a number that no bank has.
    pub const fn numbered(number: u8) -> Option<Self> {
        match number {
            1 => Some(Self::One),
            2 => Some(Self::Two),
            3 => Some(Self::Three),
            4 => Some(Self::Four),
            _ => None,
        }
    }

    /// Number, from 1.
    pub const fn number(self) -> u8 {
        match self {
            Self::One => 1,
            Self::Two => 2,
            Self::Three => 3,
            Self::Four => 4,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bank_is_found_by_its_number_and_no_other_number_has_one() {
        let all: Vec<Bank> = (1..=4).filter_map(Bank::numbered).collect();
        assert_eq!(all, Bank::ALL);
        assert!(all.iter().map(|bank| bank.number()).eq(1..=4));
        assert_eq!((Bank::numbered(0), Bank::numbered(5)), (None, None));
    }
}
