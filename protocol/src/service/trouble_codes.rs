//! Services 03, 07 and 0A: lists of trouble codes.

use crate::dtc::TroubleCode;

/// The codes in the bytes after the answer byte.
///
/// On CAN a count comes first, on the older buses three codes fill each message with zeros after the last: an odd number
/// of bytes is the form with a count. Unused places (`00 00`) are passed over.
pub(super) fn codes(bytes: &[u8]) -> Vec<TroubleCode> {
    let pairs = match bytes {
        [_, pairs @ ..] if !bytes.len().is_multiple_of(2) => pairs,
        pairs => pairs,
    };
    let (pairs, _) = pairs.as_chunks::<2>();
    pairs
        .iter()
        .filter_map(|pair| TroubleCode::from_bytes(*pair))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_of_the_list_are_read() {
        let text = |bytes: &[u8]| -> Vec<String> {
            codes(bytes).iter().map(ToString::to_string).collect()
        };
        assert_eq!(text(&[2, 0x01, 0x71, 0x03, 0x01]), ["P0171", "P0301"]);
        assert_eq!(text(&[0x01, 0x71, 0, 0, 0, 0]), ["P0171"]);
        assert_eq!(text(&[0]), [""; 0]);
    }
}
