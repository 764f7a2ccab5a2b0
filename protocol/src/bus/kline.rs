//! K-line frames with headers shown: ISO 9141-2 and ISO 14230-4, three header bytes and a sum.

use nom::{IResult, Parser, number::complete::u8 as byte};

use super::{address::Address, message::Message};
use crate::error::{DecodeError, Found};

/// The tester's address.
const TESTER: u8 = 0xF1;

/// Reads one frame: format, target, source, data, checksum (the sum of all bytes before it, modulo
/// 256).
///
/// ISO 9141-2 answers begin 48 6B; ISO 14230-4 answers carry the number of data bytes in the format
/// byte and go to the tester.
///
/// # Errors
/// Too few bytes, a header that no answer has, a length that does not fit, a wrong checksum.
pub fn parse(frame: &[u8]) -> Result<Message, DecodeError> {
    let (data, source) = header(frame)?;
    let (sum, payload) = data
        .split_last()
        .filter(|(_, payload)| !payload.is_empty())
        .ok_or_else(|| DecodeError::new(frame.len(), "data and a checksum", Found::End))?;
    check_length(frame, payload.len())?;
    let end = frame.len() - 1;
    let expected = frame
        .iter()
        .take(end)
        .fold(0u8, |sum, byte| sum.wrapping_add(*byte));
    if expected != *sum {
        let expected = format!("checksum {expected:02X}");
        return Err(DecodeError::at(frame, end, expected));
    }
    Ok(Message {
        from: Some(Address::Byte(source)),
        payload: payload.to_vec(),
    })
}

/// format, target, source; what is left, and the source
fn header(frame: &[u8]) -> Result<(&[u8], u8), DecodeError> {
    let parsed: IResult<&[u8], _> = (byte, byte, byte).parse(frame);
    let (data, (format, target, source)) =
        parsed.map_err(|_| DecodeError::new(frame.len(), "three header bytes", Found::End))?;
    match (format, target) {
        (0x48, 0x6B) | (0x80.., TESTER) => Ok((data, source)),
        (0x48, _) => Err(DecodeError::at(frame, 1, "target 6B")),
        (0x80.., _) => Err(DecodeError::at(frame, 1, "the tester F1 as target")),
        _ => Err(DecodeError::at(frame, 0, "the header of an answer")),
    }
}

/// ISO 14230-4 says the length in the low six bits; SAE J1979 lets an ISO 9141-2 frame have up to
/// seven data bytes.
fn check_length(frame: &[u8], found: usize) -> Result<(), DecodeError> {
    let fits = match frame.first() {
        Some(format @ 0x80..) => usize::from(format & 0x3F) == found,
        _ => found <= 7,
    };
    if fits {
        return Ok(());
    }
    let expected = "as many data bytes as the header allows";
    Err(DecodeError::at(frame, 0, expected))
}

#[cfg(test)]
mod tests {
    use super::*;

    // sums worked by hand: 48+6B+10+41+0C+1A+F8 = 222; 84+F1+10+41+0C+1A+F8 = 2E4
    #[test]
    fn both_header_forms_are_read() {
        for frame in [
            [0x48, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8, 0x22],
            [0x84, 0xF1, 0x10, 0x41, 0x0C, 0x1A, 0xF8, 0xE4],
        ] {
            let message = parse(&frame).unwrap();
            assert_eq!(message.from, Some(Address::Byte(0x10)));
            assert_eq!(message.payload, [0x41, 0x0C, 0x1A, 0xF8]);
        }
    }

    #[test]
    fn any_single_changed_byte_is_noticed() {
        let good = [0x84, 0xF1, 0x10, 0x41, 0x0C, 0x1A, 0xF8, 0xE4];
        for place in 0..good.len() {
            for bit in 0..8 {
                let mut bad = good;
                bad[place] ^= 1 << bit;
                assert!(parse(&bad).is_err(), "{bad:02X?}");
            }
        }
    }

    #[test]
    fn a_lost_byte_is_noticed_by_the_declared_length() {
        // the sum fits by chance, the length does not
        let frame = [0x84, 0xF1, 0x10, 0x41, 0x0C, 0x1A, 0xEC];
        let error = parse(&frame).unwrap_err();
        assert_eq!(error.offset, 0);
        for length in 0..5 {
            assert!(parse(&frame[..length]).is_err());
        }
    }
}
