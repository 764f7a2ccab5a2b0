//! Chains of gzip members, sound and damaged.

use std::io::Write;

use flate2::{Compression, write::GzEncoder};

use super::{super::dice::Dice, spoil};

/// A text as a chain of gzip members of several lines each, as a recording writes them.
pub fn compress(text: &[u8], dice: &mut Dice) -> Vec<Vec<u8>> {
    let mut members = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let length = (200 << dice.index(8)).min(rest.len());
        let end = rest[length..].iter().position(|byte| *byte == b'\n');
        let (part, after) = rest.split_at(end.map_or(rest.len(), |end| length + end + 1));
        let mut encoder = GzEncoder::new(Vec::new(), Compression::new(6));
        encoder.write_all(part).unwrap();
        members.push(encoder.finish().unwrap());
        rest = after;
    }
    members
}

/// Damages a chain: a member as any bytes, its head or its end, or the order of members.
pub fn spoil_compressed(members: &mut Vec<Vec<u8>>, dice: &mut Dice) {
    if members.is_empty() {
        return;
    }
    let (at, other) = (dice.index(members.len()), dice.index(members.len()));
    match dice.index(7) {
        0 => members.swap(at, other),
        1 => drop(members.remove(at)),
        2 => members.insert(at, b"\x1F\x8B".to_vec()),
        3 => {
            let end = members[at].len();
            let place = end.saturating_sub(1 + dice.index(8));
            let bit = 1 << dice.index(8);
            if let Some(byte) = members[at].get_mut(place) {
                *byte ^= bit;
            }
        }
        4 => {
            let place = dice.index(10);
            let byte = dice.index(256) as u8;
            if let Some(old) = members[at].get_mut(place) {
                *old = byte;
            }
        }
        _ => spoil(&mut members[at], dice),
    }
}
