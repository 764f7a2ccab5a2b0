//! Spoils sound bytes: bit by bit, and where they have a structure, along it.

mod compressed;
mod lines;
mod nasty;

pub use compressed::{compress, spoil_compressed};
pub use lines::spoil_lines;
pub use nasty::{number, word};

use super::dice::Dice;

/// Most places spoilt in one input.
const MOST: usize = 6;

/// Spoils bytes here and there, whatever they mean.
pub fn spoil(bytes: &mut Vec<u8>, dice: &mut Dice) {
    for _ in 0..times(dice) {
        spoil_once(bytes, dice);
    }
}

/// Often once, seldom many times.
fn times(dice: &mut Dice) -> usize {
    let mut times = 1;
    while times < MOST && dice.chance(0.5) {
        times += 1;
    }
    times
}

fn spoil_once(bytes: &mut Vec<u8>, dice: &mut Dice) {
    let range = range(bytes.len(), dice);
    match dice.index(9) {
        0 if !range.is_empty() => bytes[range.start] ^= 1 << dice.index(8),
        1 if !range.is_empty() => bytes[range.start] = dice.index(256) as u8,
        2 => drop(bytes.drain(range)),
        3 => bytes.truncate(range.start),
        4 => {
            let piece = bytes[range.clone()].to_vec();
            let times = 1 + dice.index(4);
            bytes.splice(range.start..range.start, piece.repeat(times));
        }
        5 => {
            let to = dice.index(bytes.len() + 1);
            let piece = bytes[range].to_vec();
            bytes.splice(to..to, piece);
        }
        6 => drop(bytes.splice(range, word(dice))),
        7 => drop(bytes.splice(range.start..range.start, word(dice))),
        _ => {
            let random: Vec<u8> = (0..dice.index(12)).map(|_| dice.index(256) as u8).collect();
            bytes.splice(range, random);
        }
    }
}

/// A stretch of something so long, mostly short.
pub fn range(length: usize, dice: &mut Dice) -> std::ops::Range<usize> {
    let start = dice.index(length + 1);
    let longest = (length - start).min(1 << dice.index(14));
    start..start + dice.index(longest + 1)
}
