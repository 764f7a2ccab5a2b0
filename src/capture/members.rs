//! A compressed capture: a chain of gzip members (RFC 1952), of which each is believed when its checksum says that it is
//! what was written.
//!
//! A damaged member is left out, and reading goes on at the next one. The last one may be cut: a recording that was killed
//! has no checksum there, and what can be uncompressed of it is believed, because it is all that there is of its last
//! seconds.

use std::{
    fs::File,
    io::{self, BufReader, Read, Seek, SeekFrom},
};

use flate2::bufread::GzDecoder;

/// Members of up to this length, uncompressed, are kept until their checksum is read; longer ones are read twice.
const MOST_KEPT: u64 = 4 << 20;

/// How a member begins: gzip, deflate (RFC 1952, section 2.3.1).
const BEGIN: [u8; 3] = [0x1F, 0x8B, 0x08];

/// Flags that must not be set (RFC 1952, section 2.3.1).
const RESERVED_FLAGS: u8 = 0xE0;

/// Bytes uncompressed in vain before the rest of a damaged file is given up: a hostile one could go on for ever. Each try
/// counts as one look at least.
const MOST_IN_VAIN: u64 = 1 << 30;

/// Bytes of the file looked through at once for the next member.
const LOOK: usize = 64 << 10;

/// The text of a compressed capture.
pub(super) struct Members {
    file: BufReader<File>,
    /// Where the next member begins.
    next: u64,
    /// Text that is believed and was not read yet, from this place on.
    kept: Vec<u8>,
    position: usize,
    /// A long member whose checksum was found right, or the cut end.
    stream: Option<GzDecoder<BufReader<File>>>,
    in_vain: u64,
    /// Something was left out, or the end is cut.
    pub is_broken: bool,
    /// The first member was left out.
    pub lost_beginning: bool,
}

/// What became of a try to read a member.
enum Member {
    /// Sound; it ends here.
    Sound { end: u64 },
    /// The file ends in the middle of it.
    Cut,
    /// Not what was written, or no member.
    Damaged,
}

impl Members {
    /// The members of a file from its beginning.
    pub fn new(file: File) -> Self {
        Self {
            file: BufReader::new(file),
            next: 0,
            kept: Vec::new(),
            position: 0,
            stream: None,
            in_vain: 0,
            is_broken: false,
            lost_beginning: false,
        }
    }

    /// Makes the next text ready; false at the end.
    fn advance(&mut self) -> io::Result<bool> {
        let begin = self.next;
        self.kept.clear();
        self.position = 0;
        if self.file.seek(SeekFrom::Start(begin))? == self.file.get_ref().metadata()?.len() {
            return Ok(false);
        }
        let first = self.try_at(begin)?;
        if let Member::Sound { end } = first {
            self.next = end;
            self.make_ready(begin)?;
            return Ok(true);
        }
        self.is_broken = true;
        if let Some(found) = self.next_sound(begin + 1)? {
            self.lost_beginning |= begin == 0;
            // a line that was begun before the gap does not go on behind it
            self.kept.insert(0, b'\n');
            self.next = found;
            return Ok(true);
        }
        // the end of the file, whatever comes of it
        self.kept.clear();
        self.next = self.file.get_ref().metadata()?.len();
        if matches!(first, Member::Cut) {
            self.stream = Some(self.decoder(begin)?);
            return Ok(true);
        }
        self.lost_beginning |= begin == 0;
        Ok(false)
    }

    /// Has the text of a sound member, of which the beginning is kept, read again if that is not all.
    fn make_ready(&mut self, begin: u64) -> io::Result<()> {
        if self.kept.len() as u64 > MOST_KEPT {
            self.kept.clear();
            self.stream = Some(self.decoder(begin)?);
        }
        Ok(())
    }

    /// Looks for the next sound member from here on, and makes it ready. Gives where it ends.
    fn next_sound(&mut self, mut from: u64) -> io::Result<Option<u64>> {
        while self.in_vain < MOST_IN_VAIN
            && let Some(begin) = self.find(from)?
        {
            if let Member::Sound { end } = self.try_at(begin)? {
                self.make_ready(begin)?;
                return Ok(Some(end));
            }
            from = begin + 1;
        }
        Ok(None)
    }

    /// Where the next bytes stand with which a member begins.
    fn find(&mut self, from: u64) -> io::Result<Option<u64>> {
        let mut at = self.file.seek(SeekFrom::Start(from))?;
        let mut bytes = Vec::new();
        loop {
            let more = (&mut self.file).take(LOOK as u64).read_to_end(&mut bytes)?;
            let begins = |place: &usize| {
                let here = bytes.get(*place..).unwrap_or_default();
                here.starts_with(&BEGIN)
                    && here
                        .get(BEGIN.len())
                        .is_some_and(|flags| flags & RESERVED_FLAGS == 0)
            };
            if let Some(place) = memchr::memchr_iter(BEGIN[0], &bytes).find(begins) {
                return Ok(Some(at + place as u64));
            }
            if more == 0 {
                return Ok(None);
            }
            // its beginning may stand where this part ends
            let done = bytes.len().saturating_sub(BEGIN.len());
            bytes.drain(..done);
            at += done as u64;
        }
    }

    /// Uncompresses a member to its end and checks it; its text, or as much as shows that it is long, is kept.
    fn try_at(&mut self, begin: u64) -> io::Result<Member> {
        self.kept.clear();
        let mut decoder = self.decoder(begin)?;
        let mut read = (&mut decoder)
            .take(MOST_KEPT + 1)
            .read_to_end(&mut self.kept);
        let mut length = self.kept.len() as u64;
        if length > MOST_KEPT {
            let rest = io::copy(&mut decoder, &mut io::sink());
            length += *rest.as_ref().unwrap_or(&0);
            read = rest.map(|_| 0);
        }
        match read {
            Ok(_) => Ok(Member::Sound {
                end: decoder.into_inner().stream_position()?,
            }),
            Err(error) => {
                self.in_vain += length.max(LOOK as u64);
                match error.kind() {
                    io::ErrorKind::UnexpectedEof => Ok(Member::Cut),
                    io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => Ok(Member::Damaged),
                    _ => Err(error),
                }
            }
        }
    }

    fn decoder(&self, begin: u64) -> io::Result<GzDecoder<BufReader<File>>> {
        let mut file = self.file.get_ref().try_clone()?;
        file.seek(SeekFrom::Start(begin))?;
        Ok(GzDecoder::new(BufReader::new(file)))
    }
}

impl Read for Members {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.is_empty() {
            return Ok(0);
        }
        loop {
            let kept = self.kept.get(self.position..).unwrap_or_default();
            if !kept.is_empty() {
                let count = kept.len().min(into.len());
                if let (Some(from), Some(to)) = (kept.get(..count), into.get_mut(..count)) {
                    to.copy_from_slice(from);
                }
                self.position += count;
                return Ok(count);
            }
            if let Some(stream) = &mut self.stream {
                match stream.read(into) {
                    Ok(0) => self.stream = None,
                    Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
                        self.stream = None
                    }
                    outcome => return outcome,
                }
            } else if !self.advance()? {
                return Ok(0);
            }
        }
    }
}
