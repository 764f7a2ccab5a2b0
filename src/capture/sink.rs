//! Where a capture's text goes: a plain file, or a chain of gzip members.

use std::{
    fs::File,
    io::{self, Write},
};

use flate2::{Compression, write::GzEncoder};

/// Recorded time after which a new gzip member begins, µs (assumed: so much a torn end may cost).
const MEMBER_US: u64 = 3_000_000;

/// The file behind a writer.
pub(super) enum Sink {
    /// Text as it is.
    Plain(Counted),
    /// A chain of gzip members; the open one began at the given recorded time.
    Members {
        /// The member being written; none only after an error.
        open: Option<Box<GzEncoder<Counted>>>,
        /// Recorded time at which it began, µs.
        began_us: u64,
    },
}

impl Sink {
    pub fn new(file: File, compressed: bool) -> Self {
        let file = Counted { file, bytes: 0 };
        if !compressed {
            Self::Plain(file)
        } else {
            Self::Members {
                open: Some(member(file)),
                began_us: 0,
            }
        }
    }

    /// Hands text to the operating system; `t_us` is the recorded time up to which it reaches.
    pub fn write(&mut self, text: &[u8], t_us: u64) -> io::Result<()> {
        match self {
            Self::Plain(file) => file.write_all(text),
            Self::Members { open, began_us } => {
                let encoder = open.as_mut().ok_or_else(broken_before)?;
                encoder.write_all(text)?;
                if t_us < began_us.saturating_add(MEMBER_US) {
                    // Lets a reader see everything so far even if the member is never completed.
                    return encoder.flush();
                }
                let file = open.take().ok_or_else(broken_before)?.finish()?;
                *began_us = t_us;
                *open = Some(member(file));
                Ok(())
            }
        }
    }

    /// Completes the open member.
    pub fn finish(&mut self) -> io::Result<()> {
        if let Self::Members { open, .. } = self
            && let Some(encoder) = open.take()
        {
            *self = Self::Plain(encoder.finish()?);
        }
        Ok(())
    }

    /// Goes on in another file, which holds all that was handed to the operating system so far.
    pub fn go_on_in(&mut self, file: File) {
        match self {
            Self::Plain(counted) => counted.file = file,
            Self::Members { open, .. } => {
                if let Some(encoder) = open {
                    encoder.get_mut().file = file;
                }
            }
        }
    }

    /// Bytes handed to the operating system so far; none after an error in the middle of a chain.
    pub fn bytes(&self) -> u64 {
        match self {
            Self::Plain(file) => file.bytes,
            Self::Members { open, .. } => open.as_ref().map_or(0, |open| open.get_ref().bytes),
        }
    }
}

/// A file that counts what is written to it.
pub(super) struct Counted {
    file: File,
    bytes: u64,
}

impl Write for Counted {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        let count = self.file.write(text)?;
        self.bytes += count as u64;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

fn member(file: Counted) -> Box<GzEncoder<Counted>> {
    Box::new(GzEncoder::new(file, Compression::new(6)))
}

fn broken_before() -> io::Error {
    io::Error::other("an earlier write failed")
}
