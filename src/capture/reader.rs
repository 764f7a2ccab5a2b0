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
        match line.trim_ascii() == COLUMNS.as_bytes() {
            true => first_line = 4,
            false => blocks.put_back(line),
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
    let outline = match quoted {
        true => Outline::of_quoted(text, plain),
        false => Outline::of_plain(text),
    };
    Some(outline.map(|outline| Found { outline, quoted }))
}

pub(super) fn without_line_end(text: &str) -> &str {
    let text = text.strip_suffix('\n').unwrap_or(text);
    text.strip_suffix('\r').unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use flate2::{Compression, write::GzEncoder};
    use proptest::prelude::*;

    use super::*;
    use crate::capture::{Kind, Writer};

    const SMALL: &str = "# capture 1\n# {\"program\":\"pintle 0.1.0\"}\nt_us,kind,ecu,request,response\n\
        0,mark,,,recording starts\n10,data,7E8,010C,410C0BB8\n12,mark,,,\"two\nlines, one \"\"mark\"\"\"\n\
        20,data,7E8,0105,41057B\n30,link,,,lost: device disconnected\n";

    /// All rows as text, and the damage; or why the file is refused.
    fn read(bytes: &[u8]) -> Result<(Vec<String>, Damage), CaptureError> {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        let mut reader = Reader::open(file.path())?;
        let mut rows = Vec::new();
        while let Some(row) = reader.next_row()? {
            rows.push(format!("{row:?}"));
        }
        Ok((rows, reader.damage().clone()))
    }

    fn gzip(parts: &[&[u8]]) -> Vec<Vec<u8>> {
        let member = |part: &&[u8]| {
            let mut encoder = GzEncoder::new(Vec::new(), Compression::new(6));
            encoder.write_all(part).unwrap();
            encoder.finish().unwrap()
        };
        parts.iter().map(member).collect()
    }

    #[test]
    fn a_small_capture_is_read_whole() {
        let (rows, damage) = read(SMALL.as_bytes()).unwrap();
        assert_eq!(rows.len(), 5);
        assert!(
            rows[2].contains(r#"two\nlines, one \"mark\""#),
            "{}",
            rows[2]
        );
        assert!(damage.is_none());
    }

    #[test]
    fn a_cut_at_any_byte_loses_no_earlier_row() {
        let (whole, _) = read(SMALL.as_bytes()).unwrap();
        let header_end = SMALL.match_indices('\n').nth(1).unwrap().0 + 1;
        // After these bytes another row is complete.
        let ends: Vec<usize> = (0..SMALL.len())
            .filter(|at| {
                read(&SMALL.as_bytes()[..=*at]).is_ok_and(|(rows, damage)| {
                    damage.is_none() && !rows.is_empty() && SMALL.as_bytes()[*at] == b'\n'
                })
            })
            .collect();
        assert_eq!(ends.len(), 5);
        for cut in 0..SMALL.len() {
            match read(&SMALL.as_bytes()[..cut]) {
                Err(CaptureError::Empty) => assert_eq!(cut, 0),
                Err(CaptureError::Truncated) => assert!((1..header_end).contains(&cut)),
                Err(other) => panic!("cut at {cut}: {other}"),
                Ok((rows, damage)) => {
                    let complete = ends.iter().filter(|end| **end < cut).count();
                    assert_eq!(rows, whole[..complete], "cut at {cut}");
                    let clean = cut == header_end
                        || SMALL[..cut].ends_with("response\n")
                        || ends.contains(&(cut - 1));
                    assert_eq!(damage.is_none(), clean, "cut at {cut}");
                }
            }
        }
    }

    #[test]
    fn bad_lines_are_counted_and_the_first_ten_named() {
        let mut text = SMALL.to_owned();
        text.push_str(
            "40,data,7E8,010C,410C0BB8\ngarbage\n35,mark,,,back\n\n50,data,7E8,010C,41ZZ\n",
        );
        text.push_str("60,mark,,,\"never closed\n");
        text.push_str(&"x\n".repeat(12));
        text.push_str("70,mark,,,still here\n80,mark,,,torn");
        let (rows, damage) = read(text.as_bytes()).unwrap();
        assert_eq!(rows.len(), 7);
        assert_eq!(damage.bad_lines, 16);
        let named: Vec<u64> = damage.first_bad.iter().map(|bad| bad.line).collect();
        assert_eq!(named, [11, 12, 14, 15, 16, 17, 18, 19, 20, 21]);
        assert_eq!(damage.first_bad[1].problem, "the time goes back");
        assert!(damage.torn_end);
    }

    #[test]
    fn line_ends_and_byte_order_mark_of_a_spreadsheet_are_read() {
        let text = format!("\u{FEFF}{}", SMALL.replace("\n", "\r\n"));
        let (rows, damage) = read(text.as_bytes()).unwrap();
        assert_eq!(rows.len(), 5);
        assert!(damage.is_none());
    }

    #[test]
    fn what_is_no_capture_is_refused_by_its_kind() {
        let refused = |bytes: &[u8]| read(bytes).unwrap_err();
        assert!(matches!(refused(b""), CaptureError::Empty));
        assert!(matches!(
            refused(b"# capture 9\n# {}\n"),
            CaptureError::LaterVersion(9)
        ));
        assert!(matches!(refused(b"\x7FELF\0\0\n"), CaptureError::Binary));
        assert!(matches!(refused(&[0xFF; 4096]), CaptureError::Binary));
        assert!(matches!(
            refused(b"time,rpm\n0,800\n"),
            CaptureError::ForeignTable(_)
        ));
        assert!(matches!(
            refused(b"Dear all\n"),
            CaptureError::NotACapture(_)
        ));
        assert!(matches!(refused(b"Dear all"), CaptureError::NotACapture(_)));
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(
            Reader::open(folder.path()),
            Err(CaptureError::Folder)
        ));
        let missing = folder.path().join("no");
        assert!(matches!(Reader::open(&missing), Err(CaptureError::Missing)));
    }

    #[test]
    fn a_cut_chain_of_gzip_members_gives_every_complete_member() {
        let half = SMALL.find("20,data").unwrap();
        let (first, second) = SMALL.as_bytes().split_at(half);
        let members = gzip(&[first, second]);
        let whole = members.concat();
        assert_eq!(read(&whole).unwrap().0.len(), 5);
        for cut in 0..whole.len() {
            match read(&whole[..cut]) {
                Ok((rows, damage)) => {
                    assert!(rows.len() >= 3 || cut < members[0].len(), "cut at {cut}");
                    let clean = cut == members[0].len();
                    assert_eq!(damage.is_none(), clean, "cut at {cut}");
                }
                Err(_) => assert!(cut < members[0].len(), "cut at {cut}"),
            }
        }
    }

    /// A line of a capture by chance: rows, rows that go back or far ahead, quotes that close or do not, rubbish.
    fn line() -> impl Strategy<Value = String> {
        prop_oneof![
            8 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,a\n")),
            4 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,\"two\nlines\"\n")),
            1 => (0_u64..9).prop_map(|days| format!("{},mark,,,far\n", days * 90_000_000_000)),
            1 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,\"open\n")),
            1 => Just("rubbish\r\n".to_owned()),
            1 => Just("\n".to_owned()),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn rows_read_back_as_written_plain_and_compressed(
            texts in proptest::collection::vec((0_u64..5_000_000, "(?s).{0,30}"), 0..40),
            compressed: bool,
        ) {
            let folder = tempfile::tempdir().unwrap();
            let name = if compressed { "a.capture.csv.gz" } else { "a.capture.csv" };
            let path = folder.path().join(name);
            let mut writer = Writer::create(&path, &Header::by_this_program()).unwrap();
            let mut t_us = 0;
            for (step, text) in &texts {
                t_us += step;
                writer.write(&Row::mark(t_us, text)).unwrap();
            }
            writer.finish().unwrap();
            let mut reader = Reader::open(&path).unwrap();
            let mut t_us = 0;
            for (step, text) in &texts {
                t_us += step;
                prop_assert_eq!(reader.next_row().unwrap(), Some(Row::mark(t_us, text)));
            }
            prop_assert_eq!(reader.next_row().unwrap(), None);
            prop_assert!(reader.damage().is_none());
        }

        #[test]
        fn reading_on_from_any_place_finds_what_reading_through_finds(
            lines in proptest::collection::vec(line(), 0..60),
            torn in "[0-9,mark\"]{0,12}",
            compressed: bool,
        ) {
            let text = format!("{}{}{torn}", SMALL, lines.concat());
            let bytes = match compressed {
                true => gzip(&[text.as_bytes()]).concat(),
                false => text.into_bytes(),
            };
            let file = tempfile::NamedTempFile::new().unwrap();
            std::fs::write(file.path(), bytes).unwrap();
            let mut reader = Reader::open(file.path()).unwrap();
            let mut places = vec![reader.place()];
            let mut rows = Vec::new();
            while let Some(row) = reader.next_row().unwrap() {
                rows.push(format!("{row:?}"));
                places.push(reader.place());
            }
            let damage = reader.damage().clone();
            for (before, place) in places.iter().enumerate() {
                reader.go_to(file.path(), place).unwrap();
                for row in &rows[before..] {
                    prop_assert_eq!(row, &format!("{:?}", reader.next_row().unwrap().unwrap()));
                }
                prop_assert_eq!(reader.next_row().unwrap(), None);
                prop_assert_eq!(reader.damage(), &damage);
            }
        }

        #[test]
        fn a_row_that_is_later_stays_the_next_one(
            lines in proptest::collection::vec(line(), 0..60),
            step_us in 1_u64..200,
        ) {
            let file = tempfile::NamedTempFile::new().unwrap();
            std::fs::write(file.path(), format!("{}{}", SMALL, lines.concat())).unwrap();
            let (rows, damage) = read(&std::fs::read(file.path()).unwrap()).unwrap();
            let mut reader = Reader::open(file.path()).unwrap();
            let (mut until_us, mut in_steps) = (0, Vec::new());
            loop {
                match reader.next_row_until(until_us).unwrap() {
                    Next::Row(row) => {
                        prop_assert!(row.t_us <= until_us);
                        in_steps.push(format!("{row:?}"));
                    }
                    Next::Later(t_us) => {
                        prop_assert!(t_us > until_us);
                        until_us = (until_us + step_us).max(t_us.saturating_sub(step_us));
                    }
                    Next::End => break,
                }
            }
            prop_assert_eq!(in_steps, rows);
            prop_assert_eq!(reader.damage(), &damage);
        }

        #[test]
        fn no_bytes_break_the_reading(tail in proptest::collection::vec(any::<u8>(), 0..200)) {
            let mut bytes = SMALL.as_bytes().to_vec();
            bytes.extend(tail);
            let (rows, _) = read(&bytes).unwrap();
            prop_assert!(rows.len() >= 5);
        }
    }

    #[test]
    fn kinds_are_told_apart() {
        let mut blocks = open_text(SMALL);
        let kinds: Vec<Kind> =
            std::iter::from_fn(|| blocks.next_row().unwrap().map(|row| row.kind)).collect();
        assert_eq!(
            kinds,
            [Kind::Mark, Kind::Data, Kind::Mark, Kind::Data, Kind::Link]
        );
    }

    fn open_text(text: &str) -> Reader {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        Reader::open(file.path()).unwrap()
    }
}
