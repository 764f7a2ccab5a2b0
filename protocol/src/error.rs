//! What is wrong with some bytes: where, what was expected, what stood there.

use std::{borrow::Cow, fmt};

/// Bytes that are not what they should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("at byte {offset}: expected {expected}, found {found}")]
pub struct DecodeError {
    /// Position in the bytes given, counted from 0.
    pub offset: usize,
    /// What would have been right there.
    pub expected: Cow<'static, str>,
    /// What stood there instead.
    pub found: Found,
}

/// What stood at the place of a [`DecodeError`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// The bytes ended.
    End,
    /// One byte of another value.
    Byte(u8),
    /// A stretch of text, cut to a printable length.
    Text(String),
}

impl DecodeError {
    /// An error at `offset`.
    pub fn new(offset: usize, expected: impl Into<Cow<'static, str>>, found: Found) -> Self {
        Self {
            offset,
            expected: expected.into(),
            found,
        }
    }

    /// An error at `offset` of `bytes`, naming the byte that stands there, or their end.
    pub fn at(bytes: &[u8], offset: usize, expected: impl Into<Cow<'static, str>>) -> Self {
        let found = bytes
            .get(offset)
            .map_or(Found::End, |byte| Found::Byte(*byte));
        Self::new(offset, expected, found)
    }
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::End => f.write_str("the end"),
            Self::Byte(byte) => write!(f, "byte {byte:02X}"),
            Self::Text(text) => write!(f, "{text:?}"),
        }
    }
}
