//! Reading that ends when a row of a table does not.

use std::io::{self, BufReader, Read};

/// Most bytes of a row: far more than a logger writes, and little enough for any computer.
const MOST_BYTES: usize = 1 << 20;

/// A file that fails where a row is too long, before all of it is in memory.
pub(super) struct Bounded {
    source: BufReader<std::fs::File>,
    /// Bytes read since the row began.
    read: usize,
}

impl Bounded {
    pub fn new(source: std::fs::File) -> Self {
        Self {
            source: BufReader::new(source),
            read: 0,
        }
    }

    /// Another row begins. What was read ahead of it does not count.
    pub fn begin_record(&mut self) {
        self.read = 0;
    }

    /// Whether the row is too long.
    pub fn is_exceeded(&self) -> bool {
        self.read > MOST_BYTES
    }
}

impl Read for Bounded {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.is_exceeded() {
            return Err(io::ErrorKind::InvalidData.into());
        }
        let count = self.source.read(into)?;
        self.read += count;
        Ok(count)
    }
}
