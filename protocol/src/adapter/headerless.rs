//! Answers printed without headers: payload bytes alone, long CAN messages as a length line and
//! numbered lines.

use super::damage::Damage;
use crate::bus::{Framing, Message, hex};

/// Joins the lines of one reply. `lines` hold hex digits, or one digit, a colon and hex digits.
///
/// Without headers nothing tells which controller a line comes from. Long messages that came one
/// after the other are read; long messages that came interleaved cannot be told apart and are
/// reported as not whole.
pub fn messages(lines: &[String], framing: Framing, damage: &mut Vec<Damage>) -> Vec<Message> {
    let mut state = State::default();
    for line in lines {
        state.take(line, framing, damage);
    }
    state.close(damage);
    state.done
}

#[derive(Default)]
struct State {
    done: Vec<Message>,
    open: Option<Open>,
}

/// A long message in progress.
struct Open {
    total: usize,
    next: u8,
    data: Vec<u8>,
    last: Vec<u8>,
}

impl State {
    fn take(&mut self, line: &str, framing: Framing, damage: &mut Vec<Damage>) {
        match line.split_once(':') {
            Some((number, piece)) => self.take_piece(line, number, piece, damage),
            None if framing.is_can() && line.len() == 3 => self.begin(line, damage),
            None => match hex::decode(line) {
                Ok(payload) if (1..=7).contains(&payload.len()) => {
                    let from = None;
                    self.done.push(Message { from, payload });
                }
                _ => damage.push(Damage::Line(line.to_owned())),
            },
        }
    }

    fn begin(&mut self, line: &str, damage: &mut Vec<Damage>) {
        let total = usize::from_str_radix(line, 16).unwrap_or(0);
        let again = |open: &Open| open.total == total && open.next == 0;
        if self.open.as_ref().is_some_and(again) {
            return;
        }
        self.close(damage);
        if total <= 7 {
            damage.push(Damage::Line(line.to_owned()));
            return;
        }
        self.open = Some(Open {
            total,
            next: 0,
            data: Vec::new(),
            last: Vec::new(),
        });
    }

    fn take_piece(&mut self, line: &str, number: &str, piece: &str, damage: &mut Vec<Damage>) {
        let number = u8::from_str_radix(number, 16);
        let (Some(mut open), Ok(number), Ok(piece)) =
            (self.open.take(), number, hex::decode(piece))
        else {
            damage.push(Damage::Line(line.to_owned()));
            return;
        };
        if open.repeats(number, &piece) {
            self.open = Some(open);
            return;
        }
        if !open.append(number, &piece) {
            damage.push(open.not_whole());
        } else if open.data.len() == open.total {
            self.done.push(Message {
                from: None,
                payload: open.data,
            });
        } else {
            self.open = Some(open);
        }
    }

    fn close(&mut self, damage: &mut Vec<Damage>) {
        damage.extend(self.open.take().map(|open| open.not_whole()));
    }
}

impl Open {
    /// The first line, a second time.
    fn repeats(&self, number: u8, piece: &[u8]) -> bool {
        self.next == 1 && number == 0 && self.last == piece
    }

    /// Line 0 holds six bytes, the others seven, the last one as many as are left and perhaps
    /// padding.
    fn append(&mut self, number: u8, piece: &[u8]) -> bool {
        let wanted = if self.data.is_empty() { 6 } else { 7 };
        let wanted = wanted.min(self.total - self.data.len());
        let Some(content) = piece
            .get(..wanted)
            .filter(|_| number == self.next && piece.len() <= 7)
        else {
            return false;
        };
        self.data.extend_from_slice(content);
        self.last = piece.to_vec();
        self.next = (self.next + 1) & 0x0F;
        true
    }

    fn not_whole(&self) -> Damage {
        Damage::NotWhole {
            expected: self.total,
            found: self.data.len(),
        }
    }
}
