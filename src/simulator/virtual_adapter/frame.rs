//! Controller answers as CAN frames with their times, and how the adapter prints them.

use pintle_protocol::Address;

use crate::simulator::car::ControllerAnswer;

use super::settings::Settings;

/// From the first frame to the adapter's flow control and the next frame, and between the frames after it, µs.
const FLOW_CONTROL_US: u64 = 900;
const FRAME_GAP_US: u64 = 500;

/// One frame as it comes off the bus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// When its last bit arrives, µs.
    pub at_us: u64,
    /// Who sent it.
    pub from: Address,
    /// Up to eight bytes, protocol control byte first.
    pub data: Vec<u8>,
    /// Bytes of `data` that are not padding.
    used: usize,
}

/// Cuts answers into frames (ISO 15765-2: single frame up to 7 bytes; else first frame with a 12-bit length and
/// consecutive frames numbered 1 to F, 0 and on), in the order in which they come off the bus.
pub fn frames(answers: &[ControllerAnswer], asked_us: u64, padding: Option<u8>) -> Vec<Frame> {
    let mut frames: Vec<Frame> = answers
        .iter()
        .flat_map(|answer| segments(answer, asked_us))
        .collect();
    frames.sort_by_key(|frame| frame.at_us);
    if let Some(filler) = padding {
        frames
            .iter_mut()
            .for_each(|frame| frame.data.resize(8, filler));
    }
    frames
}

fn segments(answer: &ControllerAnswer, asked_us: u64) -> Vec<Frame> {
    let start_us = asked_us + answer.delay_us;
    let frame = |at_us, data: Vec<u8>| Frame {
        at_us,
        from: answer.address,
        used: data.len(),
        data,
    };
    let length = answer.payload.len();
    if length <= 7 {
        return vec![frame(
            start_us,
            [&[length as u8], &answer.payload[..]].concat(),
        )];
    }
    let (head, rest) = answer.payload.split_at(6);
    let first = [&[0x10 | (length >> 8) as u8, length as u8], head].concat();
    let mut frames = vec![frame(start_us, first)];
    for (part, number) in rest.chunks(7).zip(1_u8..) {
        let at_us = start_us + FLOW_CONTROL_US + FRAME_GAP_US * u64::from(number);
        frames.push(frame(at_us, [&[0x20 | (number & 0x0F)], part].concat()));
    }
    frames
}

/// The lines that the adapter prints for a frame: one, or with headers off a length line before a first frame.
pub fn lines(frame: &Frame, settings: &Settings) -> Vec<String> {
    if settings.headers {
        return vec![header(frame.from, settings) + &hex(&frame.data, settings)];
    }
    if !settings.formatting {
        return vec![hex(&frame.data, settings)];
    }
    let data = frame.data.get(1..frame.used).unwrap_or_default();
    match frame.data.as_slice() {
        [first, length, ..] if first >> 4 == 1 => {
            let length = usize::from(first & 0x0F) << 8 | usize::from(*length);
            let data = data.get(1..).unwrap_or_default();
            vec![
                format!("{length:03X}{}", if settings.spaces { " " } else { "" }),
                numbered(0, data, settings),
            ]
        }
        [next, ..] if next >> 4 == 2 => vec![numbered(next & 0x0F, data, settings)],
        _ => vec![hex(data, settings)],
    }
}

fn numbered(number: u8, data: &[u8], settings: &Settings) -> String {
    let gap = if settings.spaces { " " } else { "" };
    format!("{number:X}:{gap}{}", hex(data, settings))
}

fn header(from: Address, settings: &Settings) -> String {
    match (from, settings.spaces) {
        (Address::Can29(value), true) => hex(&value.to_be_bytes(), settings),
        (other, true) => format!("{other} "),
        (other, false) => other.to_string(),
    }
}

fn hex(bytes: &[u8], settings: &Settings) -> String {
    let one = |byte: &u8| match settings.spaces {
        true => format!("{byte:02X} "),
        false => format!("{byte:02X}"),
    };
    bytes.iter().map(one).collect()
}
