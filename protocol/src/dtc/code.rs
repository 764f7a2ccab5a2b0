//! A trouble code: two bytes on the bus, five characters for people (ISO 15031-6 / SAE J2012).

use std::{fmt, str::FromStr};

use crate::error::{DecodeError, Found};

/// A diagnostic trouble code by its two bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TroubleCode(pub u16);

/// Letters by the two highest bits: powertrain, chassis, body, network (SAE J2012).
const LETTERS: [char; 4] = ['P', 'C', 'B', 'U'];

impl TroubleCode {
    /// From the two bytes as sent; `None` for `00 00`, which fills unused places.
    pub fn from_bytes(bytes: [u8; 2]) -> Option<Self> {
        match u16::from_be_bytes(bytes) {
            0 => None,
            number => Some(Self(number)),
        }
    }
}

impl fmt::Display for TroubleCode {
    /// Letter (top two bits), first digit (next two), three hex digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = LETTERS
            .get(usize::from(self.0 >> 14))
            .copied()
            .unwrap_or('?');
        write!(f, "{letter}{:X}{:03X}", self.0 >> 12 & 3, self.0 & 0xFFF)
    }
}

impl FromStr for TroubleCode {
    type Err = DecodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = |offset, expected: &'static str| {
            DecodeError::new(
                offset,
                expected,
                Found::Text(text.chars().take(12).collect()),
            )
        };
        let mut chars = text.chars();
        let letter = chars.next().map(|letter| letter.to_ascii_uppercase());
        let letter = letter
            .and_then(|letter| LETTERS.iter().position(|known| *known == letter))
            .ok_or_else(|| wrong(0, "P, C, B or U"))?;
        let digits = chars.as_str();
        if digits.len() != 4 || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong(1, "four hex digits"));
        }
        let number = u16::from_str_radix(digits, 16).map_err(|_| wrong(1, "four hex digits"))?;
        if number > 0x3FFF {
            return Err(wrong(1, "a first digit of 0 to 3"));
        }
        Ok(Self((letter as u16) << 14 | number))
    }
}

pub(crate) fn text_of_raw(raw: u32) -> String {
    match u16::try_from(raw) {
        Ok(0) => "none".to_owned(),
        Ok(number) => TroubleCode(number).to_string(),
        Err(_) => format!("{raw:X}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_and_text_agree_with_the_standard() {
        // 01 43 → P0143 is the worked example of SAE J1979 (service 03); U0158 = C1 58 and P1234 by
        // the bit layout of SAE J2012.
        for (bytes, text) in [
            ([0x01, 0x43], "P0143"),
            ([0x03, 0x01], "P0301"),
            ([0x12, 0x34], "P1234"),
            ([0x21, 0x9A], "P219A"),
            ([0x43, 0x21], "C0321"),
            ([0x92, 0x34], "B1234"),
            ([0xC1, 0x58], "U0158"),
            ([0xFF, 0xFF], "U3FFF"),
        ] {
            assert_eq!(TroubleCode::from_bytes(bytes).unwrap().to_string(), text);
        }
        assert_eq!(TroubleCode::from_bytes([0, 0]), None);
    }

    #[test]
    fn every_code_reads_back() {
        for number in 0..=u16::MAX {
            let code = TroubleCode(number);
            assert_eq!(code.to_string().parse(), Ok(code));
        }
    }

    #[test]
    fn what_is_no_code_is_refused() {
        for text in ["", "P", "P03", "X0301", "P4000", "P03011", "P03é"] {
            assert!(text.parse::<TroubleCode>().is_err(), "{text:?}");
        }
    }
}
