//! Spoils a text of lines and fields along its structure, so that more of it is understood and what comes later is reached.

use super::{
    super::dice::Dice,
    nasty::{number, word},
    range, spoil, times,
};

/// Spoils lines and fields; `separators` part the fields of a line.
pub fn spoil_lines(text: &[u8], separators: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut lines: Vec<Vec<u8>> = text
        .split_inclusive(|byte| *byte == b'\n')
        .map(<[u8]>::to_vec)
        .collect();
    if dice.chance(0.3) {
        // short inputs are quick, and what is odd weighs more in them
        let kept = range(lines.len(), dice);
        let first = lines.len().min(3);
        lines = [
            &lines[..first],
            &lines[kept.start.max(first).min(kept.end)..kept.end],
        ]
        .concat();
    }
    for _ in 0..times(dice) {
        spoil_line(&mut lines, separators, dice);
    }
    lines.concat()
}

fn spoil_line(lines: &mut Vec<Vec<u8>>, separators: &[u8], dice: &mut Dice) {
    if lines.is_empty() {
        return lines.push(word(dice));
    }
    let (at, other) = (dice.index(lines.len()), dice.index(lines.len()));
    match dice.index(10) {
        0 => lines.swap(at, other),
        1 => drop(lines.remove(at)),
        2 => {
            let line = lines[other].clone();
            let times = 1 << dice.index(8);
            lines.splice(at..at, std::iter::repeat_n(line, times));
        }
        3 => spoil(&mut lines[at], dice),
        4 => {
            // a column from here on, so that it is no outlier
            let (column, new) = (dice.index(8), word(dice));
            for line in &mut lines[at..] {
                set_field(line, separators, column, &new);
            }
        }
        5 => {
            // later, also far later
            let shift = number(dice);
            let shift: u64 = String::from_utf8_lossy(&shift)
                .parse()
                .unwrap_or(1 << dice.index(64));
            for line in &mut lines[at..] {
                shift_time(line, shift);
            }
        }
        6 => {
            let new = number(dice);
            set_field(&mut lines[at], separators, usize::MAX, &new);
        }
        7 => {
            let column = dice.index(8);
            let from = field(&lines[other], separators, column);
            set_field(&mut lines[at], separators, column, &from);
        }
        _ => {
            let (column, new) = (dice.index(8), word(dice));
            set_field(&mut lines[at], separators, column, &new);
        }
    }
}

/// Where the fields of a line lie.
fn fields(line: &[u8], separators: &[u8]) -> Vec<std::ops::Range<usize>> {
    let end = line
        .iter()
        .position(|byte| matches!(byte, b'\r' | b'\n'))
        .unwrap_or(line.len());
    let mut fields = Vec::new();
    let mut start = 0;
    for (at, byte) in line[..end].iter().enumerate() {
        if separators.contains(byte) {
            fields.push(start..at);
            start = at + 1;
        }
    }
    fields.push(start..end);
    fields
}

fn field(line: &[u8], separators: &[u8], column: usize) -> Vec<u8> {
    let fields = fields(line, separators);
    line[fields[column.min(fields.len() - 1)].clone()].to_vec()
}

/// Puts another text into a field; the last one where the line has too few.
fn set_field(line: &mut Vec<u8>, separators: &[u8], column: usize, new: &[u8]) {
    let fields = fields(line, separators);
    line.splice(
        fields[column.min(fields.len() - 1)].clone(),
        new.iter().copied(),
    );
}

/// Adds to the whole number that a line begins with.
fn shift_time(line: &mut Vec<u8>, shift: u64) {
    let end = line
        .iter()
        .position(|byte| !byte.is_ascii_digit())
        .unwrap_or(line.len());
    let time: Option<u64> = std::str::from_utf8(&line[..end])
        .ok()
        .and_then(|text| text.parse().ok());
    if let Some(time) = time {
        line.splice(..end, time.saturating_add(shift).to_string().into_bytes());
    }
}
