//! The commonest row, a plain `data` row, read straight from the bytes; everything else takes the general way.

use pintle_protocol::bus::hex;

/// A `data` row without quotes. Request and response are checked to be hex by whoever turns them into bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct DataRow<'a> {
    pub t_us: u64,
    pub ecu: &'a [u8],
    pub request: &'a [u8],
    pub response: &'a [u8],
}

/// Largest number of digits of a time that cannot overflow 64 bits.
const SAFE_DIGITS: usize = 19;

/// Reads one line (without line end); `None` when it is not plainly a `data` row.
#[inline]
pub(super) fn data_row(line: &[u8]) -> Option<DataRow<'_>> {
    let mut t_us = 0_u64;
    let mut digits = 0;
    for byte in line {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        t_us = t_us.wrapping_mul(10).wrapping_add(u64::from(digit));
        digits += 1;
    }
    if digits == 0 || digits > SAFE_DIGITS {
        return None;
    }
    let rest = line.get(digits..)?.strip_prefix(b",data,")?;
    let (ecu, rest) = before_comma(rest)?;
    let (request, response) = before_comma(rest)?;
    Some(DataRow {
        t_us,
        ecu,
        request,
        response,
    })
}

#[inline]
fn before_comma(bytes: &[u8]) -> Option<(&[u8], &[u8])> {
    let comma = bytes.iter().position(|byte| *byte == b',')?;
    let (before, rest) = bytes.split_at_checked(comma)?;
    Some((before, rest.get(1..)?))
}

/// Bytes of a message, decoded from hex without allocation; longer ones are cut off from the fast way.
#[derive(Debug, Clone)]
pub(super) struct HexBuffer {
    bytes: [u8; Self::LONGEST],
}

impl HexBuffer {
    /// Longest message of the fast way, bytes (assumed).
    const LONGEST: usize = 64;

    pub const fn new() -> Self {
        Self {
            bytes: [0; Self::LONGEST],
        }
    }

    /// The bytes that an even number of hex digits says; `None` when it is none, or longer than the buffer.
    #[inline]
    pub fn decode(&mut self, digits: &[u8]) -> Option<&[u8]> {
        let bytes = hex::decode_into(digits, &mut self.bytes)?;
        (!bytes.is_empty()).then_some(bytes)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::capture::{Kind, row::Outline};

    proptest! {
        #[test]
        fn the_fast_way_agrees_with_the_general_one(
            line in "[0-9]{1,4},(data|mark),[0-9A-F]{0,8},[0-9A-Fa-fg]{0,6},[0-9A-Fa-f,x]{0,12}",
        ) {
            let general = Outline::of_plain(&line);
            let (mut one, mut two) = (HexBuffer::new(), HexBuffer::new());
            let fast = data_row(line.as_bytes())
                .filter(|row| one.decode(row.request).is_some() && two.decode(row.response).is_some());
            match (fast, general) {
                (Some(fast), Ok(general)) => {
                    let row = general.row(&line);
                    prop_assert_eq!(row.kind, Kind::Data);
                    prop_assert_eq!(fast.t_us, row.t_us);
                    prop_assert_eq!(fast.ecu, row.ecu.as_bytes());
                    prop_assert_eq!(fast.request, row.request.as_bytes());
                    prop_assert_eq!(fast.response, row.response.as_bytes());
                }
                (None, Ok(general)) => prop_assert!(general.kind != Kind::Data),
                (fast, general) => prop_assert!(fast.is_none(), "{:?} against {:?}", fast, general),
            }
        }
    }

    #[test]
    fn hex_is_read_in_both_cases_and_nothing_else_is() {
        let mut buffer = HexBuffer::new();
        assert_eq!(
            buffer.decode(b"410c0Bb8"),
            Some(&[0x41, 0x0C, 0x0B, 0xB8][..])
        );
        for wrong in ["", "4", "4G", "41 0", "@0", "/9", ":9"] {
            assert_eq!(buffer.decode(wrong.as_bytes()), None, "{wrong:?}");
        }
        assert_eq!(buffer.decode(&[b'0'; 130]), None);
    }
}
