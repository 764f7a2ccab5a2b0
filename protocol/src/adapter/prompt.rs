//! The byte stream from the adapter, cut at its prompts. The only parser that sees bytes as they
//! arrive.

use std::collections::VecDeque;

/// Bytes of one reply that are kept. The longest message of one controller (4095 bytes, ISO
/// 15765-2) takes about 25 000 characters with spaces and 29-bit headers; several controllers fit.
const LONGEST_REPLY: usize = 64 * 1024;

/// Replies that nobody fetched; more are dropped, the oldest first.
const MOST_REPLIES: usize = 16;

/// Bytes at the end of an unfinished reply in which words are looked for: two printed lines.
const TAIL: usize = 64;

/// Everything that came before one prompt.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RawReply {
    /// The lines that hold something, white space at their ends removed. Bytes that are no ASCII
    /// show as U+FFFD.
    pub lines: Vec<String>,
    /// Bytes that came after the reply had grown too long, and were dropped.
    pub dropped: usize,
}

/// Collects bytes and cuts them at each `>`. Zero bytes are left out (some adapters insert them),
/// any mix of carriage returns and line feeds ends a line.
#[derive(Debug, Default)]
pub struct PromptReader {
    buffer: Vec<u8>,
    dropped: usize,
    ready: VecDeque<RawReply>,
}

impl PromptReader {
    /// Takes the next bytes, however they were cut.
    pub fn push(&mut self, bytes: &[u8]) {
        for byte in bytes {
            match byte {
                0 => {}
                b'>' => self.end_reply(),
                _ if self.buffer.len() < LONGEST_REPLY => self.buffer.push(*byte),
                _ => self.dropped += 1,
            }
        }
    }

    /// The next complete reply, oldest first.
    pub fn next_reply(&mut self) -> Option<RawReply> {
        self.ready.pop_front()
    }

    /// What came since the last prompt, as lines; it stays there.
    pub fn partial(&self) -> RawReply {
        RawReply {
            lines: lines(&self.buffer),
            dropped: self.dropped,
        }
    }

    /// Whether `word` (upper case, no spaces) stands near the end of what came since the last
    /// prompt.
    pub fn partial_holds(&self, word: &str) -> bool {
        let tail = self.buffer.len().saturating_sub(TAIL);
        let tail = self.buffer.get(tail..).unwrap_or_default();
        let squeezed = tail.iter().filter(|b| !b.is_ascii_whitespace());
        let squeezed: Vec<u8> = squeezed.map(u8::to_ascii_uppercase).collect();
        squeezed
            .windows(word.len().max(1))
            .any(|w| w == word.as_bytes())
    }

    /// Forgets all that came and was not fetched.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    fn end_reply(&mut self) {
        if self.ready.len() == MOST_REPLIES {
            self.ready.pop_front();
        }
        self.ready.push_back(self.partial());
        self.buffer.clear();
        self.dropped = 0;
    }
}

fn lines(buffer: &[u8]) -> Vec<String> {
    buffer
        .split(|byte| matches!(byte, b'\r' | b'\n'))
        .map(<[u8]>::trim_ascii)
        .filter(|line| !line.is_empty())
        .map(printable)
        .collect()
}

fn printable(line: &[u8]) -> String {
    let show = |byte: &u8| match byte {
        b' '..=b'~' | b'\t' => char::from(*byte),
        _ => char::REPLACEMENT_CHARACTER,
    };
    line.iter().map(show).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn replies(chunks: &[&[u8]]) -> Vec<RawReply> {
        let mut reader = PromptReader::default();
        for chunk in chunks {
            reader.push(chunk);
        }
        std::iter::from_fn(|| reader.next_reply()).collect()
    }

    fn reply(lines: &[&str]) -> RawReply {
        RawReply {
            lines: lines.iter().map(|line| (*line).to_owned()).collect(),
            dropped: 0,
        }
    }

    #[test]
    fn a_prompt_ends_a_reply_whatever_ends_the_lines() {
        for bytes in [
            &b"41 0C\rOK\r\r>"[..],
            b"\r\n41 0C\r\nOK\r\n>",
            b"41\0 0C \nOK\0>",
        ] {
            assert_eq!(replies(&[bytes]), [reply(&["41 0C", "OK"])]);
        }
    }

    #[test]
    fn two_replies_in_one_read_are_two() {
        assert_eq!(
            replies(&[b"A\r>B\r", b">C"]),
            [reply(&["A"]), reply(&["B"])]
        );
    }

    #[test]
    fn bytes_that_are_no_text_stay_visible() {
        assert_eq!(replies(&[b"\xFFA\x80>"]), [reply(&["\u{FFFD}A\u{FFFD}"])]);
    }

    #[test]
    fn a_reply_without_end_is_cut_and_counted() {
        let mut reader = PromptReader::default();
        for _ in 0..100 {
            reader.push(&[b'A'; 1000]);
        }
        reader.push(b">");
        let reply = reader.next_reply().unwrap();
        assert_eq!(reply.lines[0].len(), LONGEST_REPLY);
        assert_eq!(reply.dropped, 100_000 - LONGEST_REPLY);
    }

    #[test]
    fn unfetched_replies_do_not_pile_up() {
        let mut reader = PromptReader::default();
        reader.push(&[b'>'; 1000]);
        assert_eq!(
            std::iter::from_fn(|| reader.next_reply()).count(),
            MOST_REPLIES
        );
    }

    #[test]
    fn words_are_found_before_the_prompt_came() {
        let mut reader = PromptReader::default();
        reader.push(b"BUS INI");
        assert!(!reader.partial_holds("BUSINIT"));
        reader.push(b"T: ..");
        assert!(reader.partial_holds("BUSINIT"));
    }
}
