//! Services 03, 07 and 0A: lists of trouble codes.
//!
//! On CAN a count comes first. On the older buses three codes fill each message, with zeros after
//! the last (SAE J1979). With a count the number of bytes is odd, without one it is even.

use crate::{dtc::TroubleCode, error::DecodeError};

/// Bytes of codes in one message of the older buses.
const OLDER_MESSAGE: usize = 6;

/// The codes of an answer; unused places (`00 00`) are passed over.
///
/// # Errors
/// When the bytes are neither as many codes as counted nor whole messages of three.
pub(super) fn codes(response: &[u8]) -> Result<Vec<TroubleCode>, DecodeError> {
    match response.get(1..).unwrap_or_default() {
        [] => Err(DecodeError::at(response, 1, "a count or three codes")),
        [count, pairs @ ..] if pairs.len().is_multiple_of(2) => {
            counted(usize::from(*count), pairs, response)
        }
        pairs if pairs.len().is_multiple_of(OLDER_MESSAGE) => Ok(pairs_to_codes(pairs)),
        _ => Err(DecodeError::at(response, response.len(), "codes in threes")),
    }
}

fn counted(count: usize, pairs: &[u8], response: &[u8]) -> Result<Vec<TroubleCode>, DecodeError> {
    let Some((codes, beyond)) = pairs.split_at_checked(2 * count) else {
        let expected = format!("{count} codes");
        return Err(DecodeError::at(response, response.len(), expected));
    };
    match beyond.iter().position(|byte| *byte != 0) {
        Some(at) => Err(DecodeError::at(
            response,
            2 + codes.len() + at,
            "no further code",
        )),
        None => Ok(pairs_to_codes(codes)),
    }
}

fn pairs_to_codes(bytes: &[u8]) -> Vec<TroubleCode> {
    let (pairs, _) = bytes.as_chunks::<2>();
    let code = |pair: &[u8; 2]| TroubleCode::from_bytes(*pair);
    pairs.iter().filter_map(code).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(bytes: &[u8]) -> Option<Vec<String>> {
        let codes = codes(bytes).ok()?;
        Some(codes.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn both_forms_of_the_list_are_read() {
        for (bytes, expected) in [
            (
                &[0x43, 2, 0x01, 0x71, 0x03, 0x01][..],
                &["P0171", "P0301"][..],
            ),
            (&[0x43, 0x01, 0x71, 0, 0, 0, 0], &["P0171"]),
            (&[0x43, 0x01, 0x33, 0xD0, 0x16, 0, 0], &["P0133", "U1016"]),
            (&[0x43, 0, 0, 0, 0, 0, 0], &[]),
            (&[0x43, 0], &[]),
            (&[0x43, 1, 0x01, 0x33, 0, 0], &["P0133"]),
        ] {
            assert_eq!(text(bytes).unwrap(), expected);
        }
    }

    #[test]
    fn a_list_that_is_cut_or_longer_than_its_count_is_refused() {
        for bytes in [
            &[0x43][..],
            &[0x43, 2, 0x01, 0x71],
            &[0x43, 1, 0x01, 0x71, 0x03, 0x01],
            &[0x43, 0x01, 0x71, 0, 0],
        ] {
            assert_eq!(text(bytes), None, "{bytes:02X?}");
        }
        let error = codes(&[0x43, 2, 0x01, 0x71]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "at byte 4: expected 2 codes, found the end"
        );
    }
}
