//! The name of one number that a controller can report, whatever service brought it.

use std::{fmt, str::FromStr};

use crate::{
    error::{DecodeError, Found},
    monitor,
    pid::{Pid, Quantity, table},
};

/// Part of an item's range by which a number may lie outside it (our choice).
pub const ALLOWANCE: f64 = 0.01;

/// The most that a count of two bytes can be.
const COUNTS: f64 = 65_535.0;

/// One number a controller reports. The same item can come from a live answer, an old capture or
/// another logger's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Item {
    /// A quantity of a service 01 parameter (identifier F4xx on newer cars).
    Current {
        /// The parameter.
        pid: Pid,
        /// Which of the parameter's quantities, counted from 0 in the order of the published table.
        part: u8,
    },
    /// A service 06 test value in the format of CAN (identifier F6xx on newer cars).
    Monitor {
        /// Monitor identifier.
        mid: u8,
        /// Test identifier.
        tid: u8,
    },
}

impl Item {
    /// The first (for most parameters the only) quantity of a service 01 parameter.
    pub const fn current(pid: Pid) -> Self {
        Self::Current { pid, part: 0 }
    }

    /// Quantity number `part` (from 0) of a service 01 parameter.
    pub const fn part(pid: Pid, part: u8) -> Self {
        Self::Current { pid, part }
    }

    /// Whether a controller can report this number at all: the bytes of the item can carry it, with
    /// [`ALLOWANCE`] on either side for loggers that round and convert units. Of an item that is not
    /// in the tables, four bytes are allowed.
    pub fn can_be(self, number: f64) -> bool {
        let (low, high) = match self {
            Self::Current { pid, part } => table::row(pid)
                .and_then(|row| row.quantities.get(usize::from(part)))
                .map_or((0.0, f64::from(u32::MAX)), Quantity::limits),
            Self::Monitor { mid, tid } if monitor::is_misfire_count(mid, tid) => (0.0, COUNTS),
            Self::Monitor { .. } => {
                let largest = monitor::largest_test_value();
                (-largest, largest)
            }
        };
        let allowance = ALLOWANCE * (high - low);
        (low - allowance..=high + allowance).contains(&number)
    }

    /// A service 06 test value.
    pub const fn monitor(mid: u8, tid: u8) -> Self {
        Self::Monitor { mid, tid }
    }
}

impl fmt::Display for Item {
    /// The request that brings it by SAE J1979: `010C`, `06A20C`; the same for newer cars.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Current { pid, .. } => write!(f, "01{pid}"),
            Self::Monitor { mid, tid } => write!(f, "06{mid:02X}{tid:02X}"),
        }
    }
}

impl FromStr for Item {
    type Err = DecodeError;

    /// Reads a request as in a capture: `0106` (its first quantity) or `06A20C`, on newer cars
    /// `22F406` or `22F6A20C`, in upper or lower case.
    fn from_str(request: &str) -> Result<Self, Self::Err> {
        let wrong = || {
            let shown = request.chars().take(12).collect();
            let expected =
                "01 (or 22F4) and a parameter, or 06 (or 22F6), a monitor and a test, in hex";
            DecodeError::new(0, expected, Found::Text(shown))
        };
        if !request.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let number = u32::from_str_radix(request, 16).map_err(|_| wrong())?;
        match (request.len(), number.to_be_bytes()) {
            (4, [_, _, 0x01, pid]) => Ok(Self::current(Pid(pid))),
            (6, [_, 0x06, mid, tid]) => Ok(Self::monitor(mid, tid)),
            (6, [_, 0x22, 0xF4, pid]) => Ok(Self::current(Pid(pid))),
            (8, [0x22, 0xF6, mid, tid]) => Ok(Self::monitor(mid, tid)),
            _ => Err(wrong()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // SAE J1979, Appendix B: engine speed to 16 383.75 rpm, trims −100 to 99.2 %, counts in two bytes
    #[test]
    fn a_number_that_the_bytes_cannot_carry_is_none_of_the_item() {
        let speed = Item::current(Pid::ENGINE_SPEED);
        let trim = Item::current(Pid(0x06));
        let count = Item::monitor(0xA2, 0x0C);
        for (item, number, can_be) in [
            (speed, 0.0, true),
            (speed, 16_384.0, true),
            (speed, 16_600.0, false),
            (speed, -1_000.0, false),
            (speed, 1e308, false),
            (speed, f64::NAN, false),
            (trim, -100.0, true),
            (trim, 100.0, true),
            (trim, 120.0, false),
            (count, 65_535.0, true),
            (count, 1e16, false),
            // fuel type, a code of one byte
            (Item::current(Pid(0x51)), 4.0, true),
            (Item::current(Pid(0x51)), 300.0, false),
            // other test values are scaled by what comes with them
            (Item::monitor(0x01, 0x05), 65_535.0, true),
            (Item::monitor(0x01, 0x05), 1e12, false),
            (Item::monitor(0x01, 0x05), f64::INFINITY, false),
        ] {
            assert_eq!(item.can_be(number), can_be, "{item} {number}");
        }
    }

    #[test]
    fn parameters_and_test_values_are_told_from_other_text() {
        assert_eq!("0106".parse(), Ok(Item::current(Pid(6))));
        assert_eq!("06a20C".parse(), Ok(Item::monitor(0xA2, 0x0C)));
        assert_eq!("22F406".parse(), Ok(Item::current(Pid(6))));
        assert_eq!("22f6a20c".parse(), Ok(Item::monitor(0xA2, 0x0C)));
        for text in [
            "",
            "01",
            "0206",
            "010607",
            "06A2",
            "01G6",
            "rpm",
            "é106",
            "+106",
            "06A20C06A20C",
            "22F506",
            "22F406F407",
        ] {
            assert!(text.parse::<Item>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_item_reads_back_as_it_is_written() {
        for one in 0..=u8::MAX {
            for item in [Item::current(Pid(one)), Item::monitor(one, 0x0C)] {
                assert_eq!(item.to_string().parse(), Ok(item));
            }
        }
    }
}
