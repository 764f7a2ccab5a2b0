//! Controller answers as frames with their times, and how the adapter prints them.

use pintle_protocol::Address;

use crate::simulator::{bus::Bus, car::ControllerAnswer};

use super::{settings::Settings, wire};

/// Time from the first frame to the adapter's flow control and the next frame, µs (assumed).
const FLOW_CONTROL_US: u64 = 900;
/// Time between the frames after that, µs (assumed).
const FRAME_GAP_US: u64 = 500;

/// One frame as it comes off the bus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// When its last bit arrives, µs.
    pub at_us: u64,
    /// Who sent it.
    pub from: Address,
    content: Content,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Content {
    Can {
        /// Up to eight bytes, protocol control byte first.
        data: Vec<u8>,
        /// Bytes of `data` that are not padding.
        used: usize,
    },
    /// K-line and J1850.
    Older {
        header: [u8; 3],
        data: Vec<u8>,
        /// Checksum and what follows it.
        end: Vec<u8>,
    },
}

/// The frames of all answers in the order in which they come off the bus.
pub fn frames(
    answers: &[ControllerAnswer],
    asked_us: u64,
    bus: Bus,
    padding: Option<u8>,
) -> Vec<Frame> {
    if !bus.is_can() {
        return in_turn(answers, asked_us, bus);
    }
    let mut frames: Vec<Frame> = answers
        .iter()
        .flat_map(|answer| segments(answer, asked_us, padding))
        .collect();
    frames.sort_by_key(|frame| frame.at_us);
    frames
}

/// One frame a message, one after the other: whoever is ready first speaks first, the others wait for the bus.
fn in_turn(answers: &[ControllerAnswer], asked_us: u64, bus: Bus) -> Vec<Frame> {
    let mut answers: Vec<&ControllerAnswer> = answers.iter().collect();
    answers.sort_by_key(|answer| answer.delay_us);
    let mut free_us = asked_us;
    let frame = |answer: &ControllerAnswer| {
        let Address::Byte(from) = answer.address else {
            return None;
        };
        let data = answer.payload.clone();
        let header = wire::answer_header(bus, from, data.len());
        let end = wire::answer_end(bus, &[&header, &data[..]].concat());
        let start_us = (asked_us + answer.delay_us).max(free_us + wire::before_answer_us(bus));
        free_us = start_us + wire::answer_us(bus, header.len() + data.len() + end.len());
        Some(Frame {
            at_us: free_us,
            from: answer.address,
            content: Content::Older { header, data, end },
        })
    };
    answers.into_iter().filter_map(frame).collect()
}

/// Cuts an answer (ISO 15765-2): single frame up to 7 bytes; else first frame with a 12-bit length and consecutive
/// frames numbered 1 to F, 0 and on.
fn segments(answer: &ControllerAnswer, asked_us: u64, padding: Option<u8>) -> Vec<Frame> {
    let start_us = asked_us + answer.delay_us;
    let frame = |at_us, mut data: Vec<u8>| {
        let used = data.len();
        if let Some(filler) = padding {
            data.resize(8, filler);
        }
        Frame {
            at_us,
            from: answer.address,
            content: Content::Can { data, used },
        }
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
    for (part, number) in rest.chunks(7).zip(1_u64..) {
        let at_us = start_us + FLOW_CONTROL_US + FRAME_GAP_US * number;
        frames.push(frame(
            at_us,
            [&[0x20 | (number & 0x0F) as u8], part].concat(),
        ));
    }
    frames
}

impl Frame {
    /// Whether a longer answer begins, which goes on only when the adapter asks for it.
    pub fn is_first(&self) -> bool {
        matches!(&self.content, Content::Can { data, .. } if data.first().is_some_and(|byte| byte >> 4 == 1))
    }

    /// The lines that the adapter prints: one, or with headers off a length line before a first frame.
    pub fn lines(&self, settings: &Settings) -> Vec<String> {
        match &self.content {
            Content::Older { header, data, end } => vec![if settings.headers {
                hex(&[header, &data[..], end].concat(), settings)
            } else {
                hex(data, settings)
            }],
            Content::Can { data, .. } if settings.headers => {
                vec![can_header(self.from, settings) + &hex(data, settings)]
            }
            Content::Can { data, .. } if !settings.formatting => vec![hex(data, settings)],
            Content::Can { data, used } => formatted(data, *used, settings),
        }
    }
}

/// Header of a message to the one controller that answers under this address, on CAN (ISO 15765-4).
pub fn physical_header(controller: Address) -> Vec<u8> {
    match controller {
        Address::Byte(_) => Vec::new(),
        Address::Can11(value) => value.saturating_sub(8).to_be_bytes().to_vec(),
        Address::Can29(value) => vec![0x18, 0xDA, value as u8, 0xF1],
    }
}

fn formatted(frame: &[u8], used: usize, settings: &Settings) -> Vec<String> {
    let data = frame.get(1..used).unwrap_or_default();
    match frame {
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

fn can_header(from: Address, settings: &Settings) -> String {
    match (from, settings.spaces) {
        (Address::Can29(value), true) => hex(&value.to_be_bytes(), settings),
        (other, true) => format!("{other} "),
        (other, false) => other.to_string(),
    }
}

fn hex(bytes: &[u8], settings: &Settings) -> String {
    let one = |byte: &u8| {
        if settings.spaces {
            format!("{byte:02X} ")
        } else {
            format!("{byte:02X}")
        }
    };
    bytes.iter().map(one).collect()
}
