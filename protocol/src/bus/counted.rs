//! Service 09 answers on K-line and J1850: several short messages with a running count, joined to
//! the form CAN uses.
//!
//! SAE J1979: each message is `49`, information type, message count from 1, four data bytes. The
//! joined form is `49`, information type, number of items, data, as CAN controllers send it, so
//! that decoders read one form only.

use super::{address::Address, message::Message};

/// Why counted messages could not be joined.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("information type {info_type:02X}: expected message {expected}, found {found}")]
pub struct CountError {
    /// Information type of service 09.
    pub info_type: u8,
    /// Count that should have come.
    pub expected: u8,
    /// Count that came.
    pub found: u8,
}

/// Joins the counted messages among `messages`; all others pass unchanged, in order. A message that
/// came twice in a row counts once.
pub fn join(messages: Vec<Message>) -> (Vec<Message>, Vec<CountError>) {
    let mut joined: Vec<Message> = Vec::new();
    let mut runs: Vec<Run> = Vec::new();
    for message in messages {
        match Piece::of(&message) {
            Some(piece) => add(&mut runs, message.from, piece),
            None => joined.push(message),
        }
    }
    let mut errors = Vec::new();
    for run in runs {
        match run.error {
            Some(error) => errors.push(error),
            None => joined.push(run.into_message()),
        }
    }
    (joined, errors)
}

/// One counted message taken apart.
struct Piece {
    info_type: u8,
    count: u8,
    data: Vec<u8>,
}

impl Piece {
    /// Even information types are counted; odd ones only say how many messages the next even one
    /// has.
    fn of(message: &Message) -> Option<Self> {
        match message.payload.as_slice() {
            [0x49, info_type, count, data @ ..] if info_type % 2 == 0 && data.len() == 4 => {
                Some(Self {
                    info_type: *info_type,
                    count: *count,
                    data: data.to_vec(),
                })
            }
            _ => None,
        }
    }
}

/// The pieces of one controller's answer so far.
struct Run {
    from: Option<Address>,
    info_type: u8,
    last: u8,
    data: Vec<u8>,
    last_data: Vec<u8>,
    error: Option<CountError>,
}

fn add(runs: &mut Vec<Run>, from: Option<Address>, piece: Piece) {
    let same = |run: &&mut Run| run.from == from && run.info_type == piece.info_type;
    if let Some(run) = runs.iter_mut().find(same) {
        return run.go_on(piece);
    }
    let mut run = Run {
        from,
        info_type: piece.info_type,
        last: 0,
        data: Vec::new(),
        last_data: Vec::new(),
        error: None,
    };
    run.go_on(piece);
    runs.push(run);
}

impl Run {
    fn go_on(&mut self, piece: Piece) {
        if self.last == piece.count && self.last_data == piece.data {
            return;
        }
        let expected = self.last.wrapping_add(1);
        if piece.count != expected {
            self.error.get_or_insert(CountError {
                info_type: piece.info_type,
                expected,
                found: piece.count,
            });
            return;
        }
        self.last = piece.count;
        self.data.extend_from_slice(&piece.data);
        self.last_data = piece.data;
    }

    /// The answer as a CAN controller would send it. The support mask (type 00) has no number of
    /// items.
    fn into_message(self) -> Message {
        let mut payload = vec![0x49, self.info_type];
        let data = match self.info_type {
            0x02 => without_fill(&self.data),
            _ => self.data.as_slice(),
        };
        payload.extend(self.items());
        payload.extend_from_slice(data);
        Message {
            from: self.from,
            payload,
        }
    }

    /// Number of items, from the size that SAE J1979 gives one: calibration identifier 16 bytes,
    /// calibration verification number 4, performance counter 2; everything else is one item.
    fn items(&self) -> Option<u8> {
        let size = match self.info_type {
            0x00 => return None,
            0x04 => 16,
            0x06 => 4,
            0x08 => 2,
            _ => return Some(1),
        };
        u8::try_from(self.data.len() / size).ok()
    }
}

/// The 17 characters of a vehicle identification number; the three bytes before them only fill the
/// first message.
fn without_fill(data: &[u8]) -> &[u8] {
    match data {
        [0, 0, 0, number @ ..] => number,
        _ => data,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn messages(payloads: &[&[u8]]) -> Vec<Message> {
        let message = |payload: &&[u8]| Message {
            from: Some(Address::Byte(0x10)),
            payload: payload.to_vec(),
        };
        payloads.iter().map(message).collect()
    }

    // SAE J1979: the identification number takes five messages on these buses, the first filled
    // with three zero bytes
    #[test]
    fn an_identification_number_of_five_messages_becomes_one() {
        let (joined, errors) = join(messages(&[
            b"\x49\x02\x01\0\0\0H",
            b"\x49\x02\x02RDTE",
            b"\x49\x02\x03ST00",
            b"\x49\x02\x03ST00",
            b"\x49\x02\x040000",
            b"\x49\x02\x050003",
        ]));
        assert_eq!(errors, []);
        assert_eq!(joined, messages(&[b"\x49\x02\x01HRDTEST0000000003"]));
    }

    #[test]
    fn a_mask_loses_its_count_and_other_services_pass() {
        let (joined, errors) = join(messages(&[
            &[0x41, 0x0C, 0x0B, 0xB8],
            &[0x49, 0x00, 0x01, 0x54, 0, 0, 0],
            &[0x49, 0x01, 0x05],
        ]));
        assert_eq!(errors, []);
        assert_eq!(
            joined,
            messages(&[
                &[0x41, 0x0C, 0x0B, 0xB8],
                &[0x49, 0x01, 0x05],
                &[0x49, 0x00, 0x54, 0, 0, 0],
            ])
        );
    }

    #[test]
    fn calibration_numbers_are_counted() {
        let (joined, _) = join(messages(&[
            &[0x49, 0x06, 1, 1, 2, 3, 4],
            &[0x49, 0x06, 2, 5, 6, 7, 8],
        ]));
        assert_eq!(
            joined,
            messages(&[&[0x49, 0x06, 2, 1, 2, 3, 4, 5, 6, 7, 8]])
        );
    }

    #[test]
    fn a_missing_message_is_named_and_nothing_comes_out() {
        let (joined, errors) = join(messages(&[b"\x49\x02\x01\0\0\0H", b"\x49\x02\x03ST00"]));
        assert_eq!(joined, []);
        assert_eq!(
            errors[0].to_string(),
            "information type 02: expected message 2, found 3"
        );
    }
}
