//! Hex text in any spacing and case to bytes, and bytes to the text that captures hold.

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
        let digit = character.to_digit(16).ok_or_else(|| {
            let found = Found::Text(character.to_string());
            DecodeError::new(offset, "a hex digit", found)
        })? as u8;
        high = match high {
            None => Some(digit),
            Some(high) => {
                bytes.push(high << 4 | digit);
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
    fn encoding_reads_back() {
        let bytes: Vec<u8> = (0..=255).collect();
        assert_eq!(decode(&encode(&bytes)).unwrap(), bytes);
        assert_eq!(encode(&[0x0A, 0xF1]), "0AF1");
    }
}
