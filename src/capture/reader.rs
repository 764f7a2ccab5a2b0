//! Reading a capture row by row: memory does not grow with the file, and damage is counted and read around.

use std::path::Path;

use super::{
    block::{Blocks, record_length},
    damage::Damage,
    error::CaptureError,
    header::{COLUMNS, Header, check_first_line},
    row::{Outline, Row},
    times::Times,
};

/// A capture being read.
pub struct Reader {
    header: Header,
    blocks: Blocks,
    block: Vec<u8>,
    position: usize,
    line: u64,
    plain: String,
    times: Times,
    damage: Damage,
}

/// What a reader finds next.
#[derive(Debug, PartialEq, Eq)]
pub enum Next<'a> {
    /// A row.
    Row(Row<'a>),
    /// The next row is later than was asked for; its time, µs.
    Later(u64),
    /// Nothing more.
    End,
}

/// A place between two rows of a capture, with all that reading on from there takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bookmark {
    /// Uncompressed bytes before it.
    bytes: u64,
    line: u64,
    times: Times,
    damage: Damage,
}

/// A capture whose header was read: its blocks begin at the given line.
pub(super) struct Opened {
    pub header: Header,
    pub blocks: Blocks,
    /// Line number of the first row.
    pub first_line: u64,
    pub damage: Damage,
}

/// Opens a file and reads its header.
pub(super) fn open(path: &Path) -> Result<Opened, CaptureError> {
    let mut blocks = Blocks::open(path)?;
    let mut damage = Damage::default();
    match blocks.take_line()? {
        Some(line) if line.is_empty() && blocks.lost_beginning() => {
            damage.add(
                1,
                "the beginning is damaged, so the header with the car's details is lost",
            );
            return Ok(Opened {
                header: Header::default(),
                blocks,
                first_line: 2,
                damage,
            });
        }
        Some(line) => check_first_line(text_of_first_line(&line)?)?,
        None => return Err(without_line(&blocks)),
    }
    let Some(line) = blocks.take_line()? else {
        return Err(CaptureError::Truncated);
    };
    let header = std::str::from_utf8(&line)
        .ok()
        .and_then(Header::from_json_line);
    if header.is_none() {
        damage.add(2, "not the header's JSON object");
    }
    let mut first_line = 3;
    if let Some(line) = blocks.take_line()? {
        if line.trim_ascii() == COLUMNS.as_bytes() {
            first_line = 4
        } else {
            blocks.put_back(line)
        }
    }
    Ok(Opened {
        header: header.unwrap_or_default(),
        blocks,
        first_line,
        damage,
    })
}

fn text_of_first_line(line: &[u8]) -> Result<&str, CaptureError> {
    /// Byte order mark, which may begin a text.
    const BYTE_ORDER_MARK: char = '\u{FEFF}';
    match std::str::from_utf8(line) {
        Ok(text) if !text.contains('\0') => Ok(text.trim_start_matches(BYTE_ORDER_MARK).trim_end()),
        _ => Err(CaptureError::Binary),
    }
}

/// What a file is in which not even the first line ends.
fn without_line(blocks: &Blocks) -> CaptureError {
    let begin = blocks.rest();
    match text_of_first_line(begin) {
        _ if blocks.lost_beginning() => CaptureError::BrokenCompression,
        _ if begin.is_empty() && blocks.broken_compression => CaptureError::Truncated,
        Ok("") => CaptureError::Empty,
        Ok(text) if "# capture 1".starts_with(text) => CaptureError::Truncated,
        Ok(text) => check_first_line(text)
            .err()
            .unwrap_or(CaptureError::Truncated),
        Err(binary) => binary,
    }
}

impl Reader {
    /// Opens a capture, plain or compressed, and reads its header.
    ///
    /// # Errors
    /// When there is no file, or it does not begin as a capture does.
    pub fn open(path: &Path) -> Result<Self, CaptureError> {
        let opened = open(path)?;
        Ok(Self {
            header: opened.header,
            blocks: opened.blocks,
            line: opened.first_line,
            damage: opened.damage,
            block: Vec::new(),
            position: 0,
            plain: String::new(),
            times: Times::from_start(),
        })
    }

    /// Goes to a place that this capture was at before, as if everything up to there had just been read.
    ///
    /// In a plain file that costs nothing; a compressed one is uncompressed again from its beginning.
    ///
    /// # Errors
    /// When the file has gone or cannot be read.
    pub fn go_to(&mut self, path: &Path, place: &Bookmark) -> Result<(), CaptureError> {
        self.blocks = Blocks::open_after(path, place.bytes)?;
        self.block.clear();
        self.position = 0;
        self.line = place.line;
        self.times = place.times;
        self.damage = place.damage.clone();
        Ok(())
    }

    /// The place before the next row.
    pub fn place(&self) -> Bookmark {
        Bookmark {
            bytes: self.bytes_read(),
            line: self.line,
            times: self.times,
            damage: self.damage.clone(),
        }
    }

    /// Bytes of the uncompressed file before the next row.
    pub const fn bytes_read(&self) -> u64 {
        let ahead = self.block.len().saturating_sub(self.position);
        self.blocks.handed_on() - ahead as u64
    }

    /// Where the recording comes from.
    pub const fn header(&self) -> &Header {
        &self.header
    }

    /// What was wrong with the lines read so far.
    pub const fn damage(&self) -> &Damage {
        &self.damage
    }

    /// The next row; `None` at the end. Bad lines are counted and passed over.
    ///
    /// # Errors
    /// When the medium cannot be read any further.
    pub fn next_row(&mut self) -> Result<Option<Row<'_>>, CaptureError> {
        match self.next_row_until(u64::MAX)? {
            Next::Row(row) => Ok(Some(row)),
            Next::Later(_) | Next::End => Ok(None),
        }
    }

    /// The next row, unless it is later than `until_us`: then it stays the next one.
    ///
    /// # Errors
    /// When the medium cannot be read any further.
    pub fn next_row_until(&mut self, until_us: u64) -> Result<Next<'_>, CaptureError> {
        loop {
            if self.position >= self.block.len() {
                if !self.blocks.next_block(&mut self.block)? {
                    self.damage.torn_end |= self.blocks.torn_end;
                    self.damage.broken_compression |= self.blocks.broken_compression;
                    return Ok(Next::End);
                }
                self.position = 0;
            }
            let rest = self.block.get(self.position..).unwrap_or_default();
            let length = record_length(rest, true).unwrap_or(rest.len());
            let record = rest.get(..length).unwrap_or_default();
            let mut times = self.times;
            let outline = outline_of(record, &mut self.plain).map(|found| {
                let found = found?;
                times.check(found.outline.t_us)?;
                Ok::<Found, &'static str>(found)
            });
            if let Some(Ok(found)) = &outline
                && found.outline.t_us > until_us
            {
                return Ok(Next::Later(found.outline.t_us));
            }
            let (start, line) = (self.position, self.line);
            self.position += length;
            self.line += memchr::memchr_iter(b'\n', record).count() as u64;
            self.times = times;
            match outline {
                None => {}
                Some(Err(problem)) => self.damage.add(line, problem),
                Some(Ok(found)) if found.quoted => {
                    return Ok(Next::Row(found.outline.row(&self.plain)));
                }
                Some(Ok(found)) => {
                    let record = self.block.get(start..start + length).unwrap_or_default();
                    let text = std::str::from_utf8(record).unwrap_or_default();
                    return Ok(Next::Row(found.outline.row(without_line_end(text))));
                }
            }
        }
    }
}

/// A record's outline, and whether its text is the unquoted copy.
pub(super) struct Found {
    pub outline: Outline,
    pub quoted: bool,
}

/// Reads one record; `None` for an empty line.
pub(super) fn outline_of(record: &[u8], plain: &mut String) -> Option<Result<Found, &'static str>> {
    let Ok(text) = std::str::from_utf8(record) else {
        return Some(Err("not text"));
    };
    let text = without_line_end(text);
    if text.is_empty() {
        return None;
    }
    let quoted = memchr::memchr(b'"', record).is_some();
    let outline = if quoted {
        Outline::of_quoted(text, plain)
    } else {
        Outline::of_plain(text)
    };
    Some(outline.map(|outline| Found { outline, quoted }))
}

pub(super) fn without_line_end(text: &str) -> &str {
    let text = text.strip_suffix('\n').unwrap_or(text);
    text.strip_suffix('\r').unwrap_or(text)
}

#[cfg(test)]
mod tests;
