//! SAE J1850 frames with headers shown: three header bytes, data, a CRC.

use nom::{IResult, Parser, number::complete::u8 as byte};

use super::{address::Address, message::Message};
use crate::error::{DecodeError, Found};

/// Bit of the first header byte that forbids an in-frame response; clear, one is due (SAE J2178-1, from memory).
const NO_RESPONSE: u8 = 0x08;
/// Most bytes of a frame with all that belongs to it (SAE J1850, from memory).
const LONGEST: usize = 12;
/// Most data bytes.
const MOST_DATA: usize = 7;

/// Reads one frame: priority and type, target, source, one to seven data bytes, CRC.
///
/// Answers to a tester have priority and type 48 (variable pulse width) or 41 (pulse width) and
/// target 6B (SAE J1979). Behind the CRC of the latter, adapters print what the receivers put into
/// the same frame, one byte each, or leave it out. Where the data ends is then found by the CRC:
/// bytes behind it are believed only when the data before it `fits` what was asked.
///
/// # Errors
/// Too few or too many bytes, a header that no answer has, a wrong CRC, or a CRC that fits in more
/// than one place.
pub fn parse(frame: &[u8], fits: impl Fn(&[u8]) -> bool) -> Result<Message, DecodeError> {
    let parsed: IResult<&[u8], _> = (byte, byte, byte).parse(frame);
    let (data, (kind, target, source)) =
        parsed.map_err(|_| DecodeError::new(frame.len(), "three header bytes", Found::End))?;
    if !matches!(kind, 0x48 | 0x41) {
        return Err(DecodeError::at(frame, 0, "the header of an answer"));
    }
    if target != 0x6B {
        return Err(DecodeError::at(frame, 1, "target 6B"));
    }
    let longest = match kind & NO_RESPONSE {
        0 => LONGEST,
        _ => LONGEST - 1,
    };
    if data.len() < 2 || frame.len() > longest {
        let expected = "1 to 7 data bytes and a CRC";
        return Err(DecodeError::new(frame.len(), expected, Found::End));
    }
    let payload = match kind & NO_RESPONSE {
        0 => with_response(frame, data, fits)?,
        _ => whole(frame, data)?,
    };
    Ok(Message {
        from: Some(Address::Byte(source)),
        payload: payload.to_vec(),
    })
}

/// The data of a frame that ends with its CRC.
fn whole<'a>(frame: &[u8], data: &'a [u8]) -> Result<&'a [u8], DecodeError> {
    let end = frame.len() - 1;
    let expected = crc(frame.get(..end).unwrap_or_default());
    match data.split_last() {
        Some((check, payload)) if *check == expected && payload.len() <= MOST_DATA => Ok(payload),
        _ => Err(DecodeError::at(frame, end, format!("CRC {expected:02X}"))),
    }
}

/// The data of a frame that may go on behind its CRC.
fn with_response<'a>(
    frame: &[u8],
    data: &'a [u8],
    fits: impl Fn(&[u8]) -> bool,
) -> Result<&'a [u8], DecodeError> {
    let header = frame.len() - data.len();
    let shorter = (1..data.len().saturating_sub(1).min(MOST_DATA + 1)).filter_map(|length| {
        let (payload, check) = data.split_at_checked(length)?;
        let sound = crc(frame.get(..header + length)?) == *check.first()?;
        (sound && fits(payload)).then_some(payload)
    });
    let shorter: Vec<&[u8]> = shorter.collect();
    match (whole(frame, data), shorter.as_slice()) {
        (whole, []) => whole,
        (Err(_), [payload]) => Ok(payload),
        // what does not fit what was asked gives way
        (Ok(whole), [payload]) if !fits(whole) => Ok(payload),
        _ => {
            let expected = "a CRC that fits in one place only";
            Err(DecodeError::at(frame, frame.len() - 1, expected))
        }
    }
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
        let message = parse(&good, |_| true).unwrap();
        assert_eq!(message.from, Some(Address::Byte(0x10)));
        assert_eq!(message.payload, [0x41, 0x00, 0xBE, 0x3E, 0xB8, 0x11]);
        for place in 0..good.len() {
            for bit in 0..8 {
                let mut bad = good.clone();
                bad[place] ^= 1 << bit;
                assert!(parse(&bad, |_| true).is_err(), "{bad:02X?}");
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
                parse(&frame, |_| true).is_ok(),
                (4..=10).contains(&length),
                "{length}"
            );
        }
    }

    /// A frame of the pulse width bus with this data, and what receivers put behind it.
    fn pulse_width(data: &[u8], response: &[u8]) -> Vec<u8> {
        let mut frame = [&[0x41, 0x6B, 0x10], data].concat();
        frame.push(crc(&frame));
        [&frame, response].concat()
    }

    // SAE J1850: receivers acknowledge inside the frame, each with its address.
    #[test]
    fn what_receivers_put_behind_the_crc_is_no_data() {
        let data = [0x41, 0x0C, 0x1A, 0xF8];
        let fits = |payload: &[u8]| payload.len() == 4;
        for response in [&[][..], &[0xF1], &[0xF1, 0x28], &[0x00, 0x00, 0x00]] {
            let message = parse(&pulse_width(&data, response), fits).unwrap();
            assert_eq!(message.payload, data, "{response:02X?}");
        }
        // 12 bytes are all that a frame may have
        assert!(parse(&pulse_width(&data, &[0; 5]), fits).is_err());
        // the other bus does not allow it
        let mut frame = vec![0x48, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8];
        frame.push(crc(&frame));
        frame.push(0xF1);
        assert!(parse(&frame, fits).is_err());
    }

    // Behind its own check byte a frame always has the check byte 3B: a receiver with that address
    // makes both readings sound.
    #[test]
    fn of_two_sound_readings_the_one_that_fits_the_question_counts() {
        let frame = pulse_width(&[0x41, 0x0C, 0x1A, 0xF8], &[0x3B]);
        let message = parse(&frame, |payload| payload.len() == 4).unwrap();
        assert_eq!(message.payload, [0x41, 0x0C, 0x1A, 0xF8]);
        assert!(parse(&frame, |_| true).is_err());
        let message = parse(&frame, |payload| payload.len() == 5).unwrap();
        assert_eq!(message.payload.len(), 5);
    }

    #[test]
    fn a_changed_bit_is_noticed_with_a_response_behind_too() {
        let good = pulse_width(&[0x41, 0x0C, 0x1A, 0xF8], &[0xF1]);
        for place in 0..good.len() - 1 {
            for bit in 0..8 {
                let mut bad = good.clone();
                bad[place] ^= 1 << bit;
                let fits = |payload: &[u8]| payload.len() == 4;
                assert!(parse(&bad, fits).is_err(), "{bad:02X?}");
            }
        }
    }
}
