//! One line of a trace: what happened on the line and when, and its text.

use std::{fmt, fmt::Write};

use super::error::BadEntry;

/// Something that happened on the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Event {
    /// The program sent these bytes.
    Out(Vec<u8>),
    /// The adapter sent these bytes.
    In(Vec<u8>),
    /// The device was opened, at this speed in baud where it has one.
    Opened(Option<u32>),
    /// The device was lost or closed; why, in plain words.
    Lost(String),
}

/// An event and its time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Microseconds since the trace began; of several bytes, when the last was handed over.
    pub t_us: u64,
    /// What happened.
    pub event: Event,
}

impl fmt::Display for Entry {
    /// The line of the file, without its end.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let t_us = self.t_us;
        match &self.event {
            Event::Out(bytes) => write!(f, "{t_us} out {}", escaped(bytes)),
            Event::In(bytes) => write!(f, "{t_us} in {}", escaped(bytes)),
            Event::Opened(None) => write!(f, "{t_us} open"),
            Event::Opened(Some(baud)) => write!(f, "{t_us} open {baud} baud"),
            Event::Lost(words) => write!(f, "{t_us} lost {}", escaped(words.as_bytes())),
        }
    }
}

impl Entry {
    /// Reads a line, without its end.
    pub(super) fn parse(line: &[u8]) -> Result<Self, BadEntry> {
        let (time, rest) = first_word(line);
        let (word, text) = first_word(rest);
        Ok(Self {
            t_us: number(time).ok_or(BadEntry::Time)?,
            event: match word {
                b"out" => Event::Out(unescaped(text)?),
                b"in" => Event::In(unescaped(text)?),
                b"open" => Event::Opened(speed(text)?),
                b"lost" => Event::Lost(String::from_utf8_lossy(&unescaped(text)?).into_owned()),
                _ => return Err(BadEntry::Word),
            },
        })
    }
}

/// What stands before the first space, and what behind it.
fn first_word(text: &[u8]) -> (&[u8], &[u8]) {
    let mut parts = text.splitn(2, |byte| *byte == b' ');
    let mut next = || parts.next().unwrap_or_default();
    (next(), next())
}

fn number<T: std::str::FromStr>(text: &[u8]) -> Option<T> {
    let digits = text.iter().all(u8::is_ascii_digit);
    let text = std::str::from_utf8(text).ok().filter(|_| digits)?;
    text.parse().ok()
}

fn speed(text: &[u8]) -> Result<Option<u32>, BadEntry> {
    match text.trim_ascii() {
        b"" => Ok(None),
        text => {
            let (baud, unit) = first_word(text);
            let baud = number(baud).filter(|_| unit == b"baud");
            baud.map(Some).ok_or(BadEntry::Speed)
        }
    }
}

/// Bytes as text that shows each of them.
fn escaped(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() + 8);
    let last = bytes.len().saturating_sub(1);
    for (place, byte) in bytes.iter().enumerate() {
        match byte {
            b'\r' => text.push_str("\\r"),
            b'\n' => text.push_str("\\n"),
            0 => text.push_str("\\0"),
            b'\\' => text.push_str("\\\\"),
            // many editors cut a space off the end of a line
            b' ' if place != 0 && place != last => text.push(' '),
            b'!'..=b'~' => text.push(char::from(*byte)),
            // writing to a String cannot fail
            _ => drop(write!(text, "\\x{byte:02X}")),
        }
    }
    text
}

fn unescaped(text: &[u8]) -> Result<Vec<u8>, BadEntry> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.iter();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'\\' => match rest.next() {
                Some(b'r') => b'\r',
                Some(b'n') => b'\n',
                Some(b'0') => 0,
                Some(b'\\') => b'\\',
                Some(b'x') => hex_digit(rest.next())? << 4 | hex_digit(rest.next())?,
                _ => return Err(BadEntry::Escape),
            },
            b' '..=b'~' => *byte,
            _ => return Err(BadEntry::Byte),
        });
    }
    Ok(bytes)
}

fn hex_digit(byte: Option<&u8>) -> Result<u8, BadEntry> {
    let digit = byte.and_then(|byte| char::from(*byte).to_digit(16));
    digit.map(|digit| digit as u8).ok_or(BadEntry::Escape)
}

#[cfg(test)]
mod tests {
    use proptest::{collection::vec, prelude::*, test_runner::Config};

    use super::*;

    fn event() -> impl Strategy<Value = Event> {
        let bytes = || {
            prop_oneof![
                vec(any::<u8>(), 0..40),
                "[ -~\r\n\0]{0,20}".prop_map(String::into_bytes)
            ]
        };
        prop_oneof![
            bytes().prop_map(Event::Out),
            bytes().prop_map(Event::In),
            any::<Option<u32>>().prop_map(Event::Opened),
            "\\PC{0,20}".prop_map(Event::Lost),
        ]
    }

    proptest! {
        #![proptest_config(Config { failure_persistence: None, ..Config::default() })]

        #[test]
        fn any_entry_reads_back_and_is_one_line_of_printable_text(t_us in any::<u64>(), event in event()) {
            let entry = Entry { t_us, event };
            let line = entry.to_string();
            prop_assert!(line.bytes().all(|byte| (b' '..=b'~').contains(&byte)), "{}", line);
            prop_assert_eq!(Entry::parse(line.as_bytes()), Ok(entry));
        }

        #[test]
        fn lines_of_any_bytes_never_panic(line in vec(any::<u8>(), 0..40), text in vec(any::<u8>(), 0..10)) {
            let _ = Entry::parse(&line);
            let _ = Entry::parse(&[b"12 in ", &text[..]].concat());
        }
    }

    #[test]
    fn lines_are_as_the_format_says() {
        for (line, event) in [
            ("7 open", Event::Opened(None)),
            ("7 open 38400 baud", Event::Opened(Some(38_400))),
            ("7 out ATZ\\r", Event::Out(b"ATZ\r".to_vec())),
            ("7 in 41 0C\\x20", Event::In(b"41 0C ".to_vec())),
            ("7 in \\0\\\\\\n\\xFE>", Event::In(b"\0\\\n\xFE>".to_vec())),
            ("7 lost unplugged", Event::Lost("unplugged".to_owned())),
        ] {
            let entry = Entry { t_us: 7, event };
            assert_eq!(entry.to_string(), line);
            assert_eq!(Entry::parse(line.as_bytes()), Ok(entry));
        }
    }

    #[test]
    fn a_space_at_either_end_of_the_bytes_is_not_lost_to_an_editor() {
        for bytes in [" ", "  ", " A ", " A"] {
            let event = Event::In(bytes.as_bytes().to_vec());
            let line = Entry { t_us: 7, event }.to_string();
            let bare = line.strip_prefix("7 in ").unwrap();
            assert_eq!(bare.trim(), bare);
        }
    }

    #[test]
    fn a_wrong_line_is_told_by_what_is_wrong_with_it() {
        for (line, problem) in [
            ("", BadEntry::Time),
            ("1.5 in A", BadEntry::Time),
            ("+1 in A", BadEntry::Time),
            ("99999999999999999999 in A", BadEntry::Time),
            ("1", BadEntry::Word),
            ("1 sent A", BadEntry::Word),
            ("1 open fast", BadEntry::Speed),
            ("1 open 38400", BadEntry::Speed),
            ("1 in A\tB", BadEntry::Byte),
            ("1 in \u{e9}", BadEntry::Byte),
            ("1 in \\", BadEntry::Escape),
            ("1 in \\t", BadEntry::Escape),
            ("1 in \\x4", BadEntry::Escape),
            ("1 in \\xG0", BadEntry::Escape),
        ] {
            assert_eq!(Entry::parse(line.as_bytes()), Err(problem), "{line:?}");
        }
    }
}
