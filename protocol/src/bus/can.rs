//! CAN frames as an adapter prints them: ISO 15765-4 identifiers and the control byte of ISO
//! 15765-2.

use nom::{
    IResult, Parser,
    bits::{bits, complete::take as take_bits},
    combinator::rest,
    number::complete::u8 as byte,
};

use super::{address::Address, hex, protocol::Framing};
use crate::error::{DecodeError, Found};

/// Data bytes of a full CAN frame. ISO 15765-4 lets controllers send nothing shorter.
pub const FRAME_BYTES: usize = 8;

/// One CAN frame of a controller's answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// The controller that sent it.
    pub from: Address,
    /// Data bytes on the bus, padding included.
    pub length: usize,
    /// What it carries.
    pub part: Part,
}

/// What a frame carries, by its control byte (ISO 15765-2).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// A whole message, padding removed.
    Single(Vec<u8>),
    /// The beginning of a message of `total` bytes.
    First {
        /// Bytes of the whole message, 8 to 4095.
        total: usize,
        /// The first six of them.
        data: Vec<u8>,
    },
    /// A later piece of a message.
    Consecutive {
        /// Counts 1 to 15, then from 0.
        sequence: u8,
        /// Up to seven bytes, padding still there.
        data: Vec<u8>,
    },
    /// Permission to send on; carries no data.
    FlowControl,
}

/// Reads one printed line, headers shown: identifier, then the data bytes. `line` holds no white
/// space.
///
/// # Errors
/// A digit that is no hex, an identifier that no controller answers with (ISO 15765-4: 7E8 to 7EF,
/// 18DAF1xx), a control byte that does not fit the bytes that follow, or more bytes than a frame
/// has.
pub fn parse_line(line: &str, framing: Framing) -> Result<Frame, DecodeError> {
    let digits = if framing == Framing::Can11 { 3 } else { 8 };
    let (header, data) = line.split_at_checked(digits).ok_or_else(|| {
        let expected = "a CAN identifier";
        DecodeError::new(line.len(), expected, Found::End)
    })?;
    let from = responder(header)?;
    let data = hex::decode(data)?;
    Ok(Frame {
        from,
        length: data.len(),
        part: parse_part(&data)?,
    })
}

/// The identifier, if it is one under which controllers answer a tester.
fn responder(header: &str) -> Result<Address, DecodeError> {
    let address = header.parse()?;
    match address {
        Address::Can11(0x7E8..=0x7EF) => Ok(address),
        Address::Can29(id) if id & 0x1FFF_FF00 == 0x18DA_F100 => Ok(address),
        _ => Err(DecodeError::new(
            0,
            "an identifier of a controller's answer",
            Found::Text(header.to_owned()),
        )),
    }
}

/// Reads the data bytes of one frame.
///
/// # Errors
/// No byte at all, more than eight, or a control byte that does not fit the bytes that follow.
pub fn parse_part(data: &[u8]) -> Result<Part, DecodeError> {
    if data.len() > FRAME_BYTES {
        return Err(DecodeError::at(data, FRAME_BYTES, "no more than 8 bytes"));
    }
    let wrong = |expected| DecodeError::at(data, 0, expected);
    let (_, (kind, low, content)) =
        control_and_content(data).map_err(|_| wrong("a control byte"))?;
    match kind {
        0 => single(data, usize::from(low), content),
        1 => first(data, low, content),
        2 if content.is_empty() => Err(DecodeError::at(data, 1, "data bytes")),
        2 => Ok(Part::Consecutive {
            sequence: low,
            data: content.to_vec(),
        }),
        3 => Ok(Part::FlowControl),
        _ => Err(wrong("a control byte of ISO 15765-2")),
    }
}

/// control byte = kind:4 bits, low:4 bits; content = all that follows
fn control_and_content(data: &[u8]) -> IResult<&[u8], (u8, u8, &[u8])> {
    let (content, (kind, low)) = bits::<_, _, nom::error::Error<(&[u8], usize)>, _, _>((
        take_bits(4usize),
        take_bits(4usize),
    ))
    .parse(data)?;
    let (end, content) = rest(content)?;
    Ok((end, (kind, low, content)))
}

/// A single frame is either padded to eight bytes or exactly as long as it says; anything else lost
/// a byte on the way.
fn single(data: &[u8], length: usize, content: &[u8]) -> Result<Part, DecodeError> {
    let whole = data.len() == FRAME_BYTES || data.len() == length + 1;
    match content.get(..length) {
        Some(payload) if length > 0 && whole => Ok(Part::Single(payload.to_vec())),
        Some(_) if length == 0 => Err(DecodeError::at(data, 0, "a length from 1 to 7")),
        _ => Err(DecodeError::new(
            data.len(),
            format!("{length} data bytes, or 7 with padding"),
            Found::End,
        )),
    }
}

/// first frame = low:4 bits and one byte make the length; six data bytes
fn first(data: &[u8], low: u8, content: &[u8]) -> Result<Part, DecodeError> {
    let end = |_: nom::Err<nom::error::Error<&[u8]>>| DecodeError::at(data, 1, "a length byte");
    let (content, length_low) = byte(content).map_err(end)?;
    let total = usize::from(low) << 8 | usize::from(length_low);
    if total < FRAME_BYTES {
        return Err(DecodeError::at(data, 1, "a length above 7"));
    }
    if content.len() != FRAME_BYTES - 2 {
        return Err(DecodeError::new(data.len(), "6 data bytes", Found::End));
    }
    Ok(Part::First {
        total,
        data: content.to_vec(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_padded_single_frame_loses_its_padding() {
        let frame = parse_line("7E804410C0BB8AAAAAA", Framing::Can11).unwrap();
        assert_eq!(frame.from, Address::Can11(0x7E8));
        assert_eq!(frame.part, Part::Single(vec![0x41, 0x0C, 0x0B, 0xB8]));
        let frame = parse_line("18DAF11004410C0BB8", Framing::Can29).unwrap();
        assert_eq!(frame.from, Address::Can29(0x18DA_F110));
        assert_eq!(frame.length, 5);
    }

    // ISO 15765-2: high nibble 0 single, 1 first (12-bit length), 2 consecutive (4-bit sequence), 3
    // flow control
    #[test]
    fn the_control_byte_tells_the_kind() {
        assert_eq!(
            parse_part(&[0x10, 0x14, 0x49, 2, 1, 0x31, 0x44, 0x34]).unwrap(),
            Part::First {
                total: 20,
                data: vec![0x49, 2, 1, 0x31, 0x44, 0x34]
            }
        );
        assert_eq!(
            parse_part(&[0x2F, 1, 2, 3, 4, 5, 6, 7]).unwrap(),
            Part::Consecutive {
                sequence: 15,
                data: vec![1, 2, 3, 4, 5, 6, 7]
            }
        );
        assert_eq!(parse_part(&[0x30, 0, 0]).unwrap(), Part::FlowControl);
    }

    #[test]
    fn frames_that_lost_a_byte_are_refused() {
        let refused: [&[u8]; 8] = [
            &[],
            &[0x00, 1, 2],
            &[0x04, 0x41, 0x0C, 0x0B],
            &[0x04, 0x41, 0x0C, 0xB8, 0, 0, 0],
            &[0x08, 1, 2, 3, 4, 5, 6, 7],
            &[0x10, 0x14, 0x49, 2, 1, 0x31, 0x44],
            &[0x10, 0x05, 0x49, 2, 1, 0x31, 0x44, 0x34],
            &[0x41, 0x0C, 0x0B, 0xB8],
        ];
        for data in refused {
            assert!(parse_part(data).is_err(), "{data:02X?}");
        }
    }

    #[test]
    fn identifiers_that_are_no_answer_are_refused() {
        for line in ["7DF0201000000000000", "7F804410C0BB8", "7E", "7E", "7E8"] {
            assert!(parse_line(line, Framing::Can11).is_err(), "{line}");
        }
        for line in ["18DB33F104410C0BB8", "18DAF1", "98DAF11004410C0BB8"] {
            assert!(parse_line(line, Framing::Can29).is_err(), "{line}");
        }
    }
}
