//! Which bytes of an answer belong to which parameter: service 01, and service 22 where every
//! identifier begins with the same byte.
//!
//! Nothing stands between the parameters, and some have one or two bytes (trims, whose second byte
//! is there where the engine has a third or fourth bank). The right way to split an answer is the
//! one in which all bytes find their place; where there are two such ways, nothing is guessed.

use std::borrow::Cow;

use super::request::MOST_PARAMETERS;
use crate::{
    error::DecodeError,
    pid::{Pid, table},
};

/// The parameters of an answer, in its order, by the length of their data.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Split {
    lengths: [u16; MOST_PARAMETERS],
    count: usize,
    /// Bytes of an identifier before the parameter's number.
    before: usize,
}

impl Split {
    /// The parameters with their data in the `response` that was split.
    #[inline]
    pub fn of(self, response: &[u8]) -> impl Iterator<Item = (Pid, &[u8])> {
        let mut rest = response.get(1..).unwrap_or_default();
        self.lengths
            .into_iter()
            .take(self.count)
            .map_while(move |length| {
                let (pid, after) = rest.get(self.before..)?.split_first()?;
                let (data, after) = after.split_at_checked(usize::from(length))?;
                rest = after;
                Some((Pid(*pid), data))
            })
    }
}

/// Whether a parameter that was asked for alone may have so many data bytes; else what it should
/// have. Unknown parameters and those whose layout is not tabulated may have any number.
#[inline]
pub(super) fn check_length(pid: Pid, length: usize) -> Result<(), Cow<'static, str>> {
    match table::row(pid) {
        Some(row) if !row.quantities.is_empty() && !allows(row.lengths, length) => {
            Err(length_words(row.lengths))
        }
        _ => Ok(()),
    }
}

#[inline]
fn allows(lengths: &[u8], length: usize) -> bool {
    lengths
        .iter()
        .any(|allowed| usize::from(*allowed) == length)
}

#[cold]
fn length_words(lengths: &[u8]) -> Cow<'static, str> {
    let words: Vec<String> = lengths.iter().map(ToString::to_string).collect();
    let plural = if words == ["1"] { "" } else { "s" };
    format!("{} data byte{plural}", words.join(" or ")).into()
}

/// Splits an answer to a request for the parameters `asked`. Some may be missing. Before each
/// parameter stands the byte `high`, if there is one (data identifiers of ISO 14229).
///
/// # Errors
/// When the bytes fit in no way, or in more than one.
pub(super) fn parameters(
    high: Option<u8>,
    asked: &[u8],
    response: &[u8],
) -> Result<Split, DecodeError> {
    let mut search = Search::new(high, asked, response);
    search.run();
    if search.found == 0 {
        search = Search {
            in_order: false,
            ..search
        };
        search.run();
    }
    match search.found {
        1 => Ok(search.first),
        0 => Err(DecodeError::at(
            response,
            search.furthest,
            "a parameter asked for, with all its data bytes",
        )),
        _ => Err(DecodeError::at(
            response,
            1,
            "bytes that fit in one way only",
        )),
    }
}

/// A walk through all the ways to split, which ends when a second one is found.
struct Search<'a> {
    high: Option<u8>,
    asked: &'a [u8],
    response: &'a [u8],
    in_order: bool,
    /// The way walked now; what lies beyond `Path::depth` is left over from others.
    path: [u16; MOST_PARAMETERS],
    first: Split,
    found: u8,
    furthest: usize,
}

/// Where a walk stands.
#[derive(Clone, Copy)]
struct Path {
    /// Parameters passed.
    depth: usize,
    /// Bytes passed.
    at: usize,
    /// Which places of the request were answered, one bit each.
    used: u8,
    /// The trims of banks 1 and 3, and of 2 and 4: bytes that the first of them had, 0 before it.
    trim_bytes: [u16; 2],
}

impl<'a> Search<'a> {
    fn new(high: Option<u8>, asked: &'a [u8], response: &'a [u8]) -> Self {
        Self {
            high,
            asked,
            response,
            in_order: true,
            path: [0; MOST_PARAMETERS],
            first: Split::default(),
            found: 0,
            furthest: 1,
        }
    }

    fn run(&mut self) {
        let start = Path {
            depth: 0,
            at: 1,
            used: 0,
            trim_bytes: [0; 2],
        };
        if self.response.len() > start.at {
            self.go_on(start);
        }
    }

    /// No deeper than the parameters asked for, as each is answered once.
    fn go_on(&mut self, mut walked: Path) {
        self.furthest = self.furthest.max(walked.at);
        let Some(first) = self.response.get(walked.at) else {
            if self.found == 0 {
                self.first = Split {
                    lengths: self.path,
                    count: walked.depth,
                    before: usize::from(self.high.is_some()),
                };
            }
            self.found += 1;
            return;
        };
        if let Some(high) = self.high {
            if *first != high {
                return;
            }
            walked.at += 1;
        }
        let Some(pid) = self.response.get(walked.at) else {
            return;
        };
        let Some(place) = self.place(*pid, walked.used) else {
            return;
        };
        match table::row(Pid(*pid)) {
            Some(row) => {
                for length in row.lengths {
                    self.take(walked, *pid, place, u16::from(*length));
                }
            }
            // Of unknown length: it can only be the last.
            None => {
                let rest = self.response.len() - walked.at - 1;
                self.take(walked, *pid, place, u16::try_from(rest).unwrap_or(u16::MAX));
            }
        }
    }

    /// The place in the request of a parameter not yet answered, behind all those answered if the
    /// order counts.
    fn place(&self, pid: u8, used: u8) -> Option<u32> {
        let behind = if self.in_order {
            8 - used.leading_zeros()
        } else {
            0
        };
        (0_u32..)
            .zip(self.asked)
            .find(|(place, asked)| **asked == pid && *place >= behind && used >> place & 1 == 0)
            .map(|(place, _)| place)
    }

    fn take(&mut self, walked: Path, pid: u8, place: u32, length: u16) {
        let at = walked.at + 1 + usize::from(length);
        if self.found > 1 {
            return;
        }
        if at > self.response.len() {
            self.furthest = self.response.len();
            return;
        }
        let mut trim_bytes = walked.trim_bytes;
        if let Some(bytes) = trim_pair(pid).and_then(|pair| trim_bytes.get_mut(pair)) {
            if *bytes != 0 && *bytes != length {
                return;
            }
            *bytes = length;
        }
        if let Some(piece) = self.path.get_mut(walked.depth) {
            *piece = length;
        }
        self.go_on(Path {
            depth: walked.depth + 1,
            at,
            used: walked.used | 1 << place,
            trim_bytes,
        });
    }
}

/// Trims of banks 1 and 3 all have a second byte or none has, and so have those of banks 2 and 4:
/// the engine has the bank or not (SAE J1979, PIDs 06 to 09 and 55 to 58).
const fn trim_pair(pid: u8) -> Option<usize> {
    match pid {
        0x06 | 0x07 | 0x55 | 0x56 => Some(0),
        0x08 | 0x09 | 0x57 | 0x58 => Some(1),
        _ => None,
    }
}
