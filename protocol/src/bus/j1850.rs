//! SAE J1850 frames with headers shown: three header bytes, data, a CRC.

use nom::{IResult, Parser, number::complete::u8 as byte};

use super::{address::Address, message::Message};
use crate::error::{DecodeError, Found};

/// Reads one frame: priority and type, target, source, one to seven data bytes, CRC.
///
/// Answers to a tester have priority and type 48 (variable pulse width) or 41 (pulse width) and
/// target 6B (SAE J1979).
///
/// # Errors
/// Too few or too many bytes, a header that no answer has, a wrong CRC.
pub fn parse(frame: &[u8]) -> Result<Message, DecodeError> {
    let parsed: IResult<&[u8], _> = (byte, byte, byte).parse(frame);
    let (data, (kind, target, source)) =
        parsed.map_err(|_| DecodeError::new(frame.len(), "three header bytes", Found::End))?;
    if !matches!(kind, 0x48 | 0x41) {
        return Err(DecodeError::at(frame, 0, "the header of an answer"));
    }
    if target != 0x6B {
        return Err(DecodeError::at(frame, 1, "target 6B"));
    }
    let (check, payload) = data
        .split_last()
        .filter(|(_, payload)| (1..=7).contains(&payload.len()))
        .ok_or_else(|| DecodeError::new(frame.len(), "1 to 7 data bytes and a CRC", Found::End))?;
    let end = frame.len() - 1;
    let expected = crc(frame.get(..end).unwrap_or_default());
    if expected != *check {
        return Err(DecodeError::at(frame, end, format!("CRC {expected:02X}")));
    }
    Ok(Message {
        from: Some(Address::Byte(source)),
        payload: payload.to_vec(),
    })
}

/// The check byte of SAE J1850: polynomial 1D, start FF, complemented.
pub fn crc(bytes: &[u8]) -> u8 {
    let shift = |crc: u8| match crc & 0x80 {
        0 => crc << 1,
        _ => (crc << 1) ^ 0x1D,
    };
    !bytes.iter().fold(0xFF, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| shift(crc))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // The published check value of CRC-8/SAE-J1850 over the digits 1 to 9 (from memory).
    #[test]
    fn the_crc_gives_the_published_check_value() {
        assert_eq!(crc(b"123456789"), 0x4B);
    }

    #[test]
    fn a_frame_is_read_and_any_single_changed_bit_noticed() {
        let mut good = vec![0x48, 0x6B, 0x10, 0x41, 0x00, 0xBE, 0x3E, 0xB8, 0x11];
        good.push(crc(&good));
        let message = parse(&good).unwrap();
        assert_eq!(message.from, Some(Address::Byte(0x10)));
        assert_eq!(message.payload, [0x41, 0x00, 0xBE, 0x3E, 0xB8, 0x11]);
        for place in 0..good.len() {
            for bit in 0..8 {
                let mut bad = good.clone();
                bad[place] ^= 1 << bit;
                assert!(parse(&bad).is_err(), "{bad:02X?}");
            }
        }
    }

    #[test]
    fn too_short_and_too_long_frames_are_refused() {
        let bytes = [0x48, 0x6B, 0x10, 0x41, 0, 1, 2, 3, 4, 5, 6, 7];
        for length in 0..bytes.len() {
            let mut frame = bytes[..length].to_vec();
            frame.push(crc(&frame));
            assert_eq!(
                parse(&frame).is_ok(),
                (4..=10).contains(&length),
                "{length}"
            );
        }
    }
}
