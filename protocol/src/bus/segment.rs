//! Joins CAN frames to whole messages (ISO 15765-2), for each controller on its own.
//!
//! A message comes out only when every one of its bytes came in order. Anything else is an error
//! that names the controller and what is missing; nothing is guessed.

use super::{
    address::Address,
    can::{Frame, Part},
    message::Message,
};

/// Why a message could not be joined.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SegmentError {
    /// A later piece came, but its beginning did not.
    #[error("{from}: piece {found} came without a beginning")]
    NoBeginning {
        /// The controller.
        from: Address,
        /// Sequence number of the piece.
        found: u8,
    },
    /// A piece is missing, came twice or out of order.
    #[error("{from}: expected piece {expected}, found {found}")]
    OutOfOrder {
        /// The controller.
        from: Address,
        /// Sequence number that should have come.
        expected: u8,
        /// Sequence number that came.
        found: u8,
    },
    /// The message ended early.
    #[error("{from}: expected {expected} bytes, found {found}")]
    Incomplete {
        /// The controller.
        from: Address,
        /// Bytes that the first frame announced.
        expected: usize,
        /// Bytes that came.
        found: usize,
    },
}

/// Messages in progress, at most one a controller.
#[derive(Debug, Default)]
pub struct Joiner {
    open: Vec<Open>,
}

#[derive(Debug)]
struct Open {
    from: Address,
    total: usize,
    next: u8,
    data: Vec<u8>,
    /// An error was reported; further pieces are swallowed until the next beginning.
    broken: bool,
}

impl Joiner {
    /// Takes the next frame; gives the message that it completes, if it does.
    ///
    /// # Errors
    /// The frame does not continue what its controller began; that message is dropped.
    pub fn push(&mut self, frame: Frame) -> Result<Option<Message>, SegmentError> {
        let from = frame.from;
        match frame.part {
            Part::FlowControl => Ok(None),
            Part::Single(payload) => {
                let unfinished = self.close(from);
                let message = Message {
                    from: Some(from),
                    payload,
                };
                unfinished.map_or(Ok(Some(message)), Err)
            }
            Part::First { total, data } => self.begin(from, total, data),
            Part::Consecutive { sequence, data } => self.go_on(from, sequence, &data),
        }
    }

    /// The messages that never became whole.
    pub fn finish(&mut self) -> Vec<SegmentError> {
        let open = std::mem::take(&mut self.open);
        open.iter().filter_map(Open::incomplete).collect()
    }

    fn begin(
        &mut self,
        from: Address,
        total: usize,
        data: Vec<u8>,
    ) -> Result<Option<Message>, SegmentError> {
        let repeated = |open: &Open| {
            open.from == from && open.total == total && open.data == data && !open.broken
        };
        if self.open.iter().any(repeated) {
            return Ok(None);
        }
        let unfinished = self.close(from);
        self.open.push(Open {
            from,
            total,
            next: 1,
            data,
            broken: false,
        });
        unfinished.map_or(Ok(None), Err)
    }

    fn go_on(
        &mut self,
        from: Address,
        sequence: u8,
        data: &[u8],
    ) -> Result<Option<Message>, SegmentError> {
        let Some(place) = self.open.iter().position(|open| open.from == from) else {
            return Err(SegmentError::NoBeginning {
                from,
                found: sequence,
            });
        };
        let Some(open) = self.open.get_mut(place) else {
            return Ok(None);
        };
        if open.broken {
            return Ok(None);
        }
        open.append(sequence, data)?;
        if open.data.len() < open.total {
            return Ok(None);
        }
        let whole = self.open.swap_remove(place);
        Ok(Some(Message {
            from: Some(from),
            payload: whole.data,
        }))
    }

    /// Ends what `from` had begun; an error if that was unfinished.
    fn close(&mut self, from: Address) -> Option<SegmentError> {
        let place = self.open.iter().position(|open| open.from == from)?;
        self.open.swap_remove(place).incomplete()
    }
}

impl Open {
    fn append(&mut self, sequence: u8, data: &[u8]) -> Result<(), SegmentError> {
        let from = self.from;
        if sequence != self.next {
            self.broken = true;
            return Err(SegmentError::OutOfOrder {
                from,
                expected: self.next,
                found: sequence,
            });
        }
        let wanted = (self.total - self.data.len()).min(7);
        let Some(data) = data.get(..wanted) else {
            self.broken = true;
            return Err(SegmentError::Incomplete {
                from,
                expected: self.total,
                found: self.data.len() + data.len(),
            });
        };
        self.data.extend_from_slice(data);
        self.next = (self.next + 1) & 0x0F;
        Ok(())
    }

    fn incomplete(&self) -> Option<SegmentError> {
        (!self.broken).then_some(SegmentError::Incomplete {
            from: self.from,
            expected: self.total,
            found: self.data.len(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{super::can::parse_line, super::protocol::Framing, *};

    /// All messages and errors of some printed lines, in order.
    fn join(lines: &[&str]) -> (Vec<Message>, Vec<SegmentError>) {
        let mut joiner = Joiner::default();
        let (mut messages, mut errors) = (Vec::new(), Vec::new());
        for line in lines {
            match joiner.push(parse_line(line, Framing::Can11).unwrap()) {
                Ok(message) => messages.extend(message),
                Err(error) => errors.push(error),
            }
        }
        errors.extend(joiner.finish());
        (messages, errors)
    }

    /// First frame of a message of twenty bytes (ISO 15765-2).
    const FIRST: &str = "7E81014490201485244";

    /// Frame after [`FIRST`].
    const SECOND: &str = "7E82130303030303030";

    /// Frame after [`SECOND`], the last.
    const THIRD: &str = "7E82230303030303030";

    #[test]
    fn three_frames_make_twenty_bytes() {
        let (messages, errors) = join(&[FIRST, SECOND, THIRD]);
        assert_eq!(errors, []);
        assert_eq!(messages.len(), 1);
        assert_eq!(messages[0].payload.len(), 20);
        assert_eq!(messages[0].payload[..6], [0x49, 2, 1, 0x48, 0x52, 0x44]);
    }

    #[test]
    fn two_controllers_may_be_interleaved() {
        let other = ["7E9100A490401414243", "7E92144454647000000"];
        let (messages, errors) = join(&[FIRST, other[0], SECOND, other[1], THIRD]);
        assert_eq!(errors, []);
        let from: Vec<_> = messages.iter().filter_map(|message| message.from).collect();
        assert_eq!(from, [Address::Can11(0x7E9), Address::Can11(0x7E8)]);
        assert_eq!(messages[0].payload.len(), 10);
    }

    #[test]
    fn a_repeated_first_frame_is_one_frame() {
        let (messages, errors) = join(&[FIRST, FIRST, SECOND, THIRD]);
        assert_eq!((messages.len(), errors.len()), (1, 0));
    }

    #[test]
    fn missing_repeated_and_swapped_pieces_are_named_and_give_no_message() {
        let from = Address::Can11(0x7E8);
        let out_of_order = |expected, found| SegmentError::OutOfOrder {
            from,
            expected,
            found,
        };
        let cases: [(&[&str], SegmentError); 6] = [
            (&[FIRST, THIRD], out_of_order(1, 2)),
            (&[FIRST, THIRD, SECOND], out_of_order(1, 2)),
            (&[FIRST, SECOND, SECOND, THIRD], out_of_order(2, 1)),
            (&[SECOND], SegmentError::NoBeginning { from, found: 1 }),
            (
                &[FIRST, SECOND],
                SegmentError::Incomplete {
                    from,
                    expected: 20,
                    found: 13,
                },
            ),
            (&[FIRST, SECOND, "7E823303030"], out_of_order(2, 3)),
        ];
        for (lines, error) in cases {
            let (messages, errors) = join(lines);
            assert_eq!(messages, [], "{lines:?}");
            assert_eq!(errors, [error], "{lines:?}");
        }
    }

    #[test]
    fn a_shortened_last_piece_is_incomplete() {
        let (messages, errors) = join(&[FIRST, SECOND, "7E822303030"]);
        assert!(messages.is_empty());
        assert_eq!(errors.len(), 1);
    }

    // ISO 15765-2: the sequence number goes 1..15, then 0, and the length has 12 bits
    #[test]
    fn the_longest_message_of_4095_bytes_is_joined() {
        let mut lines = vec!["7E81FFF000000000000".to_owned()];
        for piece in 1..=585 {
            lines.push(format!("7E82{:X}{piece:014X}", piece % 16));
        }
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        let (messages, errors) = join(&lines);
        assert_eq!(errors, []);
        assert_eq!(messages[0].payload.len(), 4095);
    }
}
