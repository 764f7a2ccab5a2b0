//! Hex text to bytes, in any spacing as adapters write it or strictly as captures hold it, and bytes to that text.

use std::fmt::Write;

use crate::error::{DecodeError, Found};

/// Reads pairs of hex digits. White space may stand anywhere, also inside a pair.
///
/// # Errors
/// The offset (in bytes of `text`) of the first character that is no hex digit, or the end when a
/// digit is left over.
pub fn decode(text: &str) -> Result<Vec<u8>, DecodeError> {
    let mut bytes = Vec::with_capacity(text.len() / 2);
    let mut high = None;
    for (offset, character) in text.char_indices().filter(|(_, c)| !c.is_whitespace()) {
        let value = u8::try_from(character).map_or(0xFF, digit);
        if value > 0x0F {
            let found = Found::Text(character.to_string());
            return Err(DecodeError::new(offset, "a hex digit", found));
        }
        high = match high {
            None => Some(value),
            Some(high) => {
                bytes.push(high << 4 | value);
                None
            }
        };
    }
    match high {
        None => Ok(bytes),
        Some(_) => Err(DecodeError::new(
            text.len(),
            "a second hex digit",
            Found::End,
        )),
    }
}

/// Reads pairs of hex digits without any spacing into the front of `buffer`; `None` when they are not such pairs, or more
/// than the buffer holds.
#[inline]
pub fn decode_into<'a>(digits: &[u8], buffer: &'a mut [u8]) -> Option<&'a [u8]> {
    let (pairs, odd) = digits.as_chunks::<2>();
    if !odd.is_empty() {
        return None;
    }
    let mut wrong = 0;
    let bytes = buffer.get_mut(..pairs.len())?;
    for (byte, [high, low]) in bytes.iter_mut().zip(pairs) {
        let (high, low) = (digit(*high), digit(*low));
        wrong |= high | low;
        *byte = (high << 4) | (low & 0x0F);
    }
    (wrong < 0x10).then_some(bytes)
}

/// Value of a hex digit; above 15 for anything else.
#[inline]
fn digit(byte: u8) -> u8 {
    /// Value of each byte as a hex digit.
    const TABLE: [u8; 256] = digit_table();
    // a table of 256 entries has one for every byte
    TABLE.get(usize::from(byte)).copied().unwrap_or(0xFF)
}

const fn digit_table() -> [u8; 256] {
    let mut table = [0xFF; 256];
    let digits = b"0123456789ABCDEFabcdef";
    let mut at = 0;
    while at < digits.len() {
        let value = if at < 16 { at } else { at - 6 };
        #[allow(clippy::indexing_slicing)]
        {
            table[digits[at] as usize] = value as u8;
        }
        at += 1;
    }
    table
}

/// Writes bytes as upper-case hex without spaces.
pub fn encode(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // writing to a String cannot fail
        let _ = write!(text, "{byte:02X}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spacing_and_case_do_not_matter() {
        for text in ["410C0BB8", "41 0C 0B B8", " 41\t0c0bB8 ", "4 1 0 C 0 B B 8"] {
            assert_eq!(decode(text).unwrap(), [0x41, 0x0C, 0x0B, 0xB8], "{text:?}");
        }
        assert_eq!(decode("").unwrap(), []);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_place() {
        assert_eq!(decode("41 0G").unwrap_err().offset, 4);
        assert_eq!(decode("41 é0").unwrap_err().offset, 3);
        assert_eq!(decode("41 0").unwrap_err().found, Found::End);
    }

    #[test]
    fn strict_pairs_are_read_in_both_cases_and_nothing_else_is() {
        let mut buffer = [0; 4];
        assert_eq!(
            decode_into(b"410c0BB8", &mut buffer),
            Some(&[0x41, 0x0C, 0x0B, 0xB8][..])
        );
        for wrong in ["4", "4 ", "+1", "0G", "0x", "é", "0011223344"] {
            assert_eq!(decode_into(wrong.as_bytes(), &mut buffer), None, "{wrong}");
        }
        assert_eq!(decode_into(b"", &mut buffer), Some(&[][..]));
    }

    #[test]
    fn encoding_reads_back() {
        let bytes: Vec<u8> = (0..=255).collect();
        assert_eq!(decode(&encode(&bytes)).unwrap(), bytes);
        assert_eq!(encode(&[0x0A, 0xF1]), "0AF1");
    }
}
