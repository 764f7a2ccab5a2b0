//! A block of 32 items and which of them a controller supports.

use std::{fmt, str::FromStr};

use serde::{Deserialize, Serialize, de};

use super::{COUNTERS_BLOCK, CYLINDERS};

/// The last bit of a mask only announces the next block.
const NEXT_BLOCK: u32 = 1;

/// A block of 32 items of a service of SAE J1979 with the mask of those supported; as text in hex, service, first item and
/// mask (`0100BE3EA813`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SupportBlock {
    service: u8,
    first: u8,
    mask: u32,
}

impl SupportBlock {
    /// The block that begins before item `first` + 1 (00, 20, …).
    pub const fn new(service: u8, first: u8, mask: [u8; 4]) -> Self {
        Self {
            service,
            first,
            mask: u32::from_be_bytes(mask),
        }
    }

    /// A block by what is asked of each item; `None` when nothing in it is supported.
    pub fn of(service: u8, first: u8, supports: impl Fn(u8) -> bool) -> Option<Self> {
        let items = (1..=31_u8).filter(|number| supports(first.saturating_add(*number)));
        let mask = items.fold(0, |mask, number| mask | 1_u32 << (32 - number));
        (mask != 0).then_some(Self {
            service,
            first,
            mask,
        })
    }

    /// Whether both are about the same items.
    pub fn is_of(&self, other: Self) -> bool {
        (self.service, self.first) == (other.service, other.first)
    }

    /// The mask of the items alone.
    pub const fn items(&self) -> u32 {
        self.mask & !NEXT_BLOCK
    }

    /// Whether it says which misfire counters there are.
    pub fn is_counters(&self) -> bool {
        (self.service, self.first) == COUNTERS_BLOCK
    }

    /// The cylinders whose misfire counters are supported, a bit each from cylinder 1 up; of the block of counters alone.
    pub fn cylinders(&self) -> u16 {
        // item A1 counts for all cylinders together, A2 for cylinder 1
        let supports = |cylinder: &usize| self.mask & (1 << (30 - cylinder)) != 0;
        let cylinders = (0..CYLINDERS).filter(supports);
        cylinders.fold(0, |all, cylinder| all | 1 << cylinder)
    }
}

impl fmt::Display for SupportBlock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            service,
            first,
            mask,
        } = self;
        write!(f, "{service:02X}{first:02X}{mask:08X}")
    }
}

/// A text that is no block.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected service, first item and mask as 12 hex digits")]
pub struct NoBlock;

impl FromStr for SupportBlock {
    type Err = NoBlock;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let digits = text.len() == 12 && text.bytes().all(|digit| digit.is_ascii_hexdigit());
        let number = u64::from_str_radix(text, 16).ok().filter(|_| digits);
        let [_, _, service, first, mask @ ..] = number.ok_or(NoBlock)?.to_be_bytes();
        Ok(Self::new(service, first, mask))
    }
}

impl Serialize for SupportBlock {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for SupportBlock {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(de::Error::custom)
    }
}
