//! A controller's address as it is printed on the bus.

use std::{fmt, str::FromStr};

use crate::error::{DecodeError, Found};

/// Who answered, in the form the bus gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Address {
    /// One-byte source address of a K-line or J1850 frame (`10`).
    Byte(u8),
    /// 11-bit CAN identifier (`7E8`).
    Can11(u16),
    /// 29-bit CAN identifier (`18DAF110`).
    Can29(u32),
}

impl Address {
    /// What the controller at this address usually is, where the standards reserve the address: `engine` or
    /// `transmission`.
    ///
    /// On CAN the recommended identifiers of ISO 15765-4 (7E8 and 7E9; on 29 bit, source addresses 10 and 18), before CAN
    /// the address ranges of SAE J2178-1 (10 to 17 engine, 18 to 1F transmission). All from memory.
    pub const fn usual_role(self) -> Option<&'static str> {
        match self {
            Self::Can11(0x7E8) | Self::Can29(0x18DA_F110) | Self::Byte(0x10..=0x17) => {
                Some("engine")
            }
            Self::Can11(0x7E9) | Self::Can29(0x18DA_F118) | Self::Byte(0x18..=0x1F) => {
                Some("transmission")
            }
            _ => None,
        }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Byte(value) => write!(f, "{value:02X}"),
            Self::Can11(value) => write!(f, "{value:03X}"),
            Self::Can29(value) => write!(f, "{value:08X}"),
        }
    }
}

impl FromStr for Address {
    type Err = DecodeError;

    /// Reads 2, 3 or 8 hex digits; an 11-bit identifier must not exceed 7FF, a 29-bit one 1FFFFFFF.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || {
            let shown = text.chars().take(12).collect();
            DecodeError::new(0, "an address of 2, 3 or 8 hex digits", Found::Text(shown))
        };
        if !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let value = u32::from_str_radix(text, 16).map_err(|_| wrong())?;
        match (text.len(), value) {
            (2, _) => Ok(Self::Byte(value as u8)),
            (3, ..=0x7FF) => Ok(Self::Can11(value as u16)),
            (8, ..=0x1FFF_FFFF) => Ok(Self::Can29(value)),
            _ => Err(wrong()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_read_back_as_printed() {
        for text in ["10", "7E8", "7E9", "18DAF110"] {
            assert_eq!(text.parse::<Address>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn reserved_addresses_are_engine_and_transmission() {
        let role = |text: &str| text.parse::<Address>().unwrap().usual_role();
        for engine in ["7E8", "18DAF110", "10", "11"] {
            assert_eq!(role(engine), Some("engine"), "{engine}");
        }
        for transmission in ["7E9", "18DAF118", "18"] {
            assert_eq!(role(transmission), Some("transmission"), "{transmission}");
        }
        for other in ["7EA", "18DAF17A", "28"] {
            assert_eq!(role(other), None, "{other}");
        }
    }

    #[test]
    fn what_is_no_address_is_refused() {
        for text in ["", "7", "8FF", "7E8 ", "+7E", "2FFFFFFF", "7E8F", "XYZ"] {
            assert!(text.parse::<Address>().is_err(), "{text:?}");
        }
    }
}
