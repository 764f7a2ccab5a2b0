//! A capture's bytes in blocks that end where a record ends: the unit of streaming, and of work for a second core.

use std::{
    fs::File,
    io::{self, Read, Seek, SeekFrom},
    mem,
    path::Path,
};

use memchr::{memchr, memrchr};

use super::{error::CaptureError, members::Members};
use crate::durable::is_unfinished;

/// Bytes after which a block is handed on: large enough that handing on costs nothing, small enough for a core's cache.
pub(super) const BLOCK_BYTES: usize = 256 << 10;

/// Longest record, bytes; a quote that is not closed by then is taken as damage (assumed).
const LONGEST_RECORD: usize = 64 << 10;

/// First two bytes of a gzip member (RFC 1952).
const GZIP_MAGIC: [u8; 2] = [0x1F, 0x8B];

/// The bytes of a file, uncompressed, in blocks of whole records.
pub(super) struct Blocks {
    source: Source,
    /// Read but not handed on yet.
    rest: Vec<u8>,
    /// Uncompressed bytes handed on.
    handed_on: u64,
    ended: bool,
    failed: Option<io::Error>,
    /// Parts of the compressed file were left out, or its end is cut.
    pub broken_compression: bool,
    /// The file ended inside a line.
    pub torn_end: bool,
}

/// The text of the file.
enum Source {
    Plain(File),
    Members(Box<Members>),
}

impl Read for Source {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::Plain(file) => file.read(into),
            Self::Members(members) => members.read(into),
        }
    }
}

impl Blocks {
    /// Opens a file; its first bytes, not its name, decide whether it is compressed.
    pub fn open(path: &Path) -> Result<Self, CaptureError> {
        if is_unfinished(path) {
            return Err(CaptureError::Unfinished);
        }
        let mut file = File::open(path).map_err(|error| CaptureError::opening(path, error))?;
        if path.is_dir() {
            return Err(CaptureError::Folder);
        }
        let mut magic = Vec::new();
        (&mut file).take(2).read_to_end(&mut magic)?;
        file.rewind()?;
        let source = if magic == GZIP_MAGIC {
            Source::Members(Box::new(Members::new(file)))
        } else {
            Source::Plain(file)
        };
        Ok(Self {
            source,
            rest: Vec::new(),
            handed_on: 0,
            ended: false,
            failed: None,
            broken_compression: false,
            torn_end: false,
        })
    }

    /// Opens a file after so many uncompressed bytes. A compressed one is uncompressed up to there again.
    pub fn open_after(path: &Path, bytes: u64) -> Result<Self, CaptureError> {
        let mut blocks = Self::open(path)?;
        match &mut blocks.source {
            Source::Members(members) => {
                io::copy(&mut members.take(bytes), &mut io::sink())?;
            }
            Source::Plain(file) => {
                file.seek(SeekFrom::Start(bytes))?;
            }
        }
        blocks.handed_on = bytes;
        Ok(blocks)
    }

    /// Whether the beginning of a compressed file was left out.
    pub const fn lost_beginning(&self) -> bool {
        matches!(&self.source, Source::Members(members) if members.lost_beginning)
    }

    /// Uncompressed bytes handed on so far, as lines and in blocks.
    pub const fn handed_on(&self) -> u64 {
        self.handed_on
    }

    /// Takes one line (without its end) off the front, whatever quotes it holds; `None` when no line end is left.
    pub fn take_line(&mut self) -> io::Result<Option<Vec<u8>>> {
        let mut rest = mem::take(&mut self.rest);
        while memchr(b'\n', &rest).is_none() && !self.ended && rest.len() < BLOCK_BYTES {
            self.read_more(&mut rest, LONGEST_RECORD);
        }
        self.rest = rest;
        if let Some(error) = self.failed.take() {
            return Err(error);
        }
        let Some(end) = memchr(b'\n', &self.rest) else {
            return Ok(None);
        };
        let after = self.rest.split_off(end + 1);
        let mut line = mem::replace(&mut self.rest, after);
        self.handed_on += line.len() as u64;
        line.truncate(end);
        Ok(Some(line))
    }

    /// Puts a taken line back.
    pub fn put_back(&mut self, mut line: Vec<u8>) {
        line.push(b'\n');
        self.handed_on -= line.len() as u64;
        line.append(&mut self.rest);
        self.rest = line;
    }

    /// What has been read and not handed on: the file's beginning, when nothing was taken yet.
    pub fn rest(&self) -> &[u8] {
        &self.rest
    }

    /// Puts the next whole records into `block`, replacing what is in it; false at the end of the file.
    pub fn next_block(&mut self, block: &mut Vec<u8>) -> io::Result<bool> {
        block.clear();
        block.append(&mut self.rest);
        loop {
            let missing = BLOCK_BYTES.saturating_sub(block.len()).max(LONGEST_RECORD);
            self.read_more(block, missing);
            let end = whole_records(block, self.ended);
            if end > 0 {
                self.rest
                    .extend_from_slice(block.get(end..).unwrap_or_default());
                block.truncate(end);
                self.handed_on += end as u64;
                return Ok(true);
            }
            if self.ended {
                self.torn_end |= !block.is_empty();
                block.clear();
                return self.failed.take().map_or(Ok(false), Err);
            }
        }
    }

    /// Reads up to `most` bytes more; an error ends the file but keeps what came before it.
    fn read_more(&mut self, into: &mut Vec<u8>, most: usize) {
        if self.ended {
            return;
        }
        into.reserve(most);
        let most = most as u64;
        match (&mut self.source).take(most).read_to_end(into) {
            Ok(count) => self.ended = (count as u64) < most,
            Err(error) => {
                self.ended = true;
                self.failed = Some(error);
            }
        }
        if let Source::Members(members) = &self.source {
            self.broken_compression = members.is_broken;
        }
    }
}

/// Length of the whole records at the start of `bytes`; after `ended` no more bytes will follow.
///
/// It depends on nothing but the bytes, so that reading from any record on finds the same records as reading through.
fn whole_records(bytes: &[u8], ended: bool) -> usize {
    let end = match memchr(b'"', bytes) {
        None => memrchr(b'\n', bytes).map_or(0, |at| at + 1),
        Some(_) => {
            let mut end = 0;
            while let Some(length) = bytes.get(end..).and_then(|rest| record_length(rest, ended)) {
                end += length;
            }
            end
        }
    };
    // a line of this length is no record; it goes by in pieces
    if end == 0 && bytes.len() >= BLOCK_BYTES {
        BLOCK_BYTES
    } else {
        end
    }
}

/// Length of the record at the start of `bytes` with its line end, RFC 4180: a line end inside quotes does not end it.
///
/// A quoted field that does not close (after `ended`, or within the longest record), or closes in the middle of a field, is
/// taken as one damaged line, so that one stray quote does not swallow what follows. `None`: the record is not complete.
pub(super) fn record_length(bytes: &[u8], ended: bool) -> Option<usize> {
    let line_end = memchr(b'\n', bytes)? + 1;
    let line = bytes.get(..line_end)?;
    if memchr(b'"', line).is_none() {
        return Some(line_end);
    }
    let searched = bytes.get(..LONGEST_RECORD).unwrap_or(bytes);
    match quoted_record(searched) {
        Quoted::Length(length) => Some(length),
        Quoted::Open if !ended && searched.len() == bytes.len() => None,
        Quoted::Open | Quoted::Damaged => Some(line_end),
    }
}

/// Where a record with quotes ends.
enum Quoted {
    /// After so many bytes.
    Length(usize),
    /// A quote is still open.
    Open,
    /// A quote closed in the middle of a field: one of them is damage.
    Damaged,
}

fn quoted_record(bytes: &[u8]) -> Quoted {
    let (mut inside, mut field_starts, mut closed) = (false, true, false);
    for (at, byte) in bytes.iter().enumerate() {
        if closed && !matches!(byte, b'"' | b',' | b'\r' | b'\n') {
            return Quoted::Damaged;
        }
        closed = false;
        match byte {
            // A doubled quote closes and opens again at once.
            b'"' if inside => (inside, closed) = (false, true),
            b'"' if field_starts => inside = true,
            b'\n' if !inside => return Quoted::Length(at + 1),
            _ => {}
        }
        field_starts = closed || (!inside && *byte == b',');
    }
    Quoted::Open
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_end_inside_quotes_does_not_end_a_record() {
        for record in [
            "1,mark,,,a\n",
            "1,mark,,,\"a\nb\"\n",
            "1,mark,,,\"a\"\"\n\"\"b\"\n",
            "1,mark,,,a \"quoted\" word\n",
        ] {
            let with_next = format!("{record}2,mark,,,next\n");
            assert_eq!(
                record_length(with_next.as_bytes(), false),
                Some(record.len())
            );
        }
        for cut in ["1,mark,,,\"a\nb", "1,mark,,,a"] {
            assert_eq!(record_length(cut.as_bytes(), false), None, "{cut:?}");
        }
    }

    #[test]
    fn a_quote_that_never_closes_costs_one_line() {
        let text = b"1,mark,,,\"a\n2,mark,,,b\n";
        assert_eq!(record_length(text, true), Some(12));
        // The next quoted field's own quote does not close it either.
        let text = b"1,mark,,,\"a\n2,mark,,,b\n3,mark,,,\"c\nd\"\n";
        assert_eq!(record_length(text, false), Some(12));
        let mut long = b"1,mark,,,\"a\n2,mark,,,b\n".to_vec();
        long.resize(2 * LONGEST_RECORD, b'x');
        assert_eq!(record_length(&long, false), Some(12));
    }
}
