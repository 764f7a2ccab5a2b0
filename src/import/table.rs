//! A foreign table row by row, whatever its line ends, quoting and encoding.

use std::{
    fs::File,
    io::{Read, Seek, SeekFrom},
    path::Path,
};

use csv::{ByteRecord, ReaderBuilder, StringRecord, Trim};

use super::{bounded::Bounded, dialect::Dialect, error::ImportError};
use crate::{capture::CaptureError, durable::is_unfinished, printable};

/// Bytes examined to find out how the table is written (assumed).
const HEAD: u64 = 64 << 10;

/// Number of columns beyond what any logger writes (assumed).
const MOST_COLUMNS: usize = 10_000;

/// A table being read.
pub(super) struct Table {
    reader: csv::Reader<Bounded>,
    /// Names of the columns, trimmed.
    pub headers: Vec<String>,
    /// The byte between fields.
    pub delimiter: u8,
    /// Read one ahead: only the last row may be cut.
    next: Option<StringRecord>,
    /// The file does not end with a line end.
    open_end: bool,
    /// The last row was cut inside a field, which was dropped.
    pub cut_end: bool,
}

impl Table {
    /// Opens a table and reads its header.
    pub fn open(path: &Path) -> Result<Self, ImportError> {
        if is_unfinished(path) {
            return Err(ImportError::Source(CaptureError::Unfinished));
        }
        let mut file = File::open(path)
            .map_err(|error| ImportError::Source(CaptureError::opening(path, error)))?;
        if path.is_dir() {
            return Err(ImportError::Source(CaptureError::Folder));
        }
        let mut head = Vec::new();
        (&mut file).take(HEAD).read_to_end(&mut head)?;
        if head.is_empty() {
            return Err(ImportError::NoReadings);
        }
        let dialect = Dialect::of(&head)?;
        let open_end = !ends_with_line_end(&mut file)?;
        file.seek(SeekFrom::Start(dialect.header_at as u64))?;
        let mut reader = ReaderBuilder::new()
            .delimiter(dialect.delimiter)
            .flexible(true)
            .has_headers(false)
            .trim(Trim::All)
            .from_reader(Bounded::new(file));
        let header = read_record(&mut reader)?.unwrap_or_default();
        if header.len() > MOST_COLUMNS {
            return Err(ImportError::TooManyColumns(MOST_COLUMNS));
        }
        let next = read_record(&mut reader)?;
        Ok(Self {
            reader,
            headers: header.iter().map(str::to_owned).collect(),
            delimiter: dialect.delimiter,
            next,
            open_end,
            cut_end: false,
        })
    }

    /// The next row; `None` at the end.
    pub fn next_row(&mut self) -> Result<Option<StringRecord>, ImportError> {
        let Some(mut row) = self.next.take() else {
            return Ok(None);
        };
        self.next = read_record(&mut self.reader)?;
        let last = self.next.is_none();
        if last && self.open_end && row.len() < self.headers.len() {
            // A number that ends where the file ends may have lost digits.
            row.truncate(row.len().saturating_sub(1));
            self.cut_end = true;
        }
        Ok(Some(row))
    }

    /// Bytes read so far.
    pub fn position(&self) -> u64 {
        self.reader.position().byte()
    }

    /// The columns' names for a message.
    pub fn header_list(&self) -> String {
        let named: Vec<&str> = self
            .headers
            .iter()
            .map(String::as_str)
            .filter(|header| !header.is_empty())
            .collect();
        /// Largest number of names in a message (assumed).
        const SHOWN: usize = 12;
        /// Largest length of the list in a message, characters (assumed).
        const LONGEST_LIST: usize = 200;
        let list = match named.get(..SHOWN) {
            Some(first) if named.len() > SHOWN => format!("{}, …", first.join(", ")),
            _ => named.join(", "),
        };
        printable::beginning(&list, LONGEST_LIST).into_owned()
    }
}

fn ends_with_line_end(file: &mut File) -> Result<bool, ImportError> {
    file.seek(SeekFrom::End(-1))?;
    let mut last = [0];
    file.read_exact(&mut last)?;
    Ok(last == *b"\n")
}

/// One record as text; bytes that are not UTF-8 are read as Latin-1, which loggers write for `°`.
fn read_record(reader: &mut csv::Reader<Bounded>) -> Result<Option<StringRecord>, ImportError> {
    let mut record = ByteRecord::new();
    reader.get_mut().begin_record();
    let found = reader.read_byte_record(&mut record);
    if reader.get_ref().is_exceeded() {
        let line = reader.position().line();
        return Err(ImportError::LineTooLong { line });
    }
    if !found.map_err(std::io::Error::from)? {
        return Ok(None);
    }
    Ok(Some(StringRecord::from_byte_record(record).unwrap_or_else(
        |error| {
            let bytes = error.into_byte_record();
            bytes
                .iter()
                .map(|field| field.iter().copied().map(char::from).collect::<String>())
                .collect()
        },
    )))
}
