//! What unreliable adapters do: mishaps that can be switched on, each for a time and so often, drawn from a seed.
//!
//! It knows bytes and times only; what a mishap means for the adapter's state is done where that state is.

use std::ops::Range;

use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Something that an unreliable adapter does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mishap {
    /// Does not know a setting (`H1`).
    Refuses(&'static str),
    /// Says that it takes a setting, and does not.
    Ignores(&'static str),
    /// Sends back again what it receives.
    Echoes,
    /// Leaves its prompt out.
    LosesPrompt,
    /// Puts zero bytes in between.
    Zeros,
    /// Ends its lines now so, now so.
    MixedLineEnds,
    /// Leaves line ends out.
    MissingLineEnds,
    /// Ends lines twice.
    DoubledLineEnds,
    /// Sends bytes without meaning when it starts.
    GarbageAtStart,
    /// Changes one hex digit of a line.
    ChangedDigit,
    /// Loses one character of a line.
    LostDigit,
    /// Breaks a line off.
    CutLine,
    /// Sends a reply and its prompt twice.
    RepeatsReply,
    /// Sends every byte by itself.
    ByteByByte,
    /// Starts over in the middle of its work.
    Restarts,
    /// Starts over because its supply was low, and says so.
    LowVoltage,
    /// Falls silent in the middle of a reply until a command makes it start over.
    Hangs,
    /// Falls silent in the middle of a reply until a full reset; any other command has no effect.
    HangsHard,
    /// Cannot hand on what came.
    BufferFull,
}

/// A mishap, how often it happens and when.
#[derive(Debug, Clone)]
struct Planned {
    mishap: Mishap,
    share: f64,
    time_us: Range<u64>,
}

/// How an adapter misbehaves.
#[derive(Debug, Clone)]
pub struct Mishaps {
    random: Pcg64Mcg,
    planned: Vec<Planned>,
    /// The mishap of which it hangs, and how many bytes it still sends.
    hung: Option<(Mishap, usize)>,
}

impl Default for Mishaps {
    fn default() -> Self {
        Self::seeded(0)
    }
}

impl Mishaps {
    /// None yet.
    pub fn seeded(seed: u64) -> Self {
        Self {
            random: Pcg64Mcg::seed_from_u64(seed),
            planned: Vec::new(),
            hung: None,
        }
    }

    /// Adds a mishap for a time; `share` (0 to 1) is how often it happens where it can: at a request, a line, a reply, or
    /// for [`Mishap::Zeros`] at a byte.
    #[must_use]
    pub fn with(mut self, mishap: Mishap, share: f64, time_us: Range<u64>) -> Self {
        self.planned.push(Planned {
            mishap,
            share,
            time_us,
        });
        self
    }

    /// Whether it happens now.
    fn strikes(&mut self, mishap: Mishap, now_us: u64) -> bool {
        let planned = self
            .planned
            .iter()
            .find(|planned| planned.mishap == mishap && planned.time_us.contains(&now_us));
        planned.is_some_and(|planned| self.random.random_bool(planned.share))
    }

    /// What becomes of a setting instead of being taken: refused or ignored.
    pub(super) fn of_setting(&mut self, word: &str, now_us: u64) -> Option<Mishap> {
        let planned = self.planned.iter().map(|planned| planned.mishap);
        let this = |mishap: &Mishap| matches!(mishap, Mishap::Refuses(of) | Mishap::Ignores(of) if *of == word);
        let mishap = planned.into_iter().find(this)?;
        self.strikes(mishap, now_us).then_some(mishap)
    }

    /// What happens at a request.
    pub(super) fn of_request(&mut self, now_us: u64) -> Option<Mishap> {
        let mishap = [
            Mishap::Echoes,
            Mishap::Restarts,
            Mishap::LowVoltage,
            Mishap::Hangs,
            Mishap::HangsHard,
            Mishap::BufferFull,
        ]
        .into_iter()
        .find(|mishap| self.strikes(*mishap, now_us))?;
        if matches!(mishap, Mishap::Hangs | Mishap::HangsHard) {
            self.hung = Some((mishap, self.random.random_range(0..16)));
        }
        Some(mishap)
    }

    /// Whether it hears this line; what starts it over makes it hear again.
    pub(super) fn hears(&mut self, line: &[u8]) -> bool {
        let wakes = match self.hung {
            None => return true,
            Some((Mishap::HangsHard, _)) => line == b"ATZ",
            Some(_) => line == b"ATZ" || line == b"ATWS",
        };
        if wakes {
            self.hung = None;
        }
        wakes
    }

    /// Bytes that go out together.
    pub fn burst(&self, now_us: u64) -> usize {
        let single = |planned: &Planned| {
            planned.mishap == Mishap::ByteByByte && planned.time_us.contains(&now_us)
        };
        if self.planned.iter().any(single) {
            1
        } else {
            usize::MAX
        }
    }

    /// What comes before the first words after a start.
    pub(super) fn at_start(&mut self, now_us: u64) -> Vec<u8> {
        let mut garbage = Vec::new();
        if self.strikes(Mishap::GarbageAtStart, now_us) {
            let length = self.random.random_range(1..40);
            garbage.resize(length, 0);
            self.random.fill_bytes(&mut garbage);
        }
        garbage
    }

    /// What goes out in place of these bytes.
    pub(super) fn spoil(&mut self, bytes: &[u8], now_us: u64) -> Vec<u8> {
        let mut bytes = bytes.to_vec();
        if !self.planned.is_empty() {
            bytes = self.spoil_lines(&bytes, now_us);
            if bytes.ends_with(b">") {
                self.spoil_reply(&mut bytes, now_us);
            }
            bytes = self.add_zeros(bytes, now_us);
        }
        if let Some((_, left)) = &mut self.hung {
            bytes.truncate(*left);
            *left -= bytes.len();
        }
        bytes
    }

    fn spoil_lines(&mut self, bytes: &[u8], now_us: u64) -> Vec<u8> {
        let mut spoilt = Vec::new();
        for piece in bytes.split_inclusive(|byte| *byte == b'\r') {
            let (mut line, ended) = match piece.strip_suffix(b"\r") {
                Some(line) => (line.to_vec(), true),
                None => (piece.to_vec(), false),
            };
            if ended && !line.is_empty() {
                self.spoil_line(&mut line, now_us);
            }
            spoilt.extend(line);
            if ended {
                spoilt.extend(self.line_end(now_us));
            }
        }
        spoilt
    }

    fn spoil_line(&mut self, line: &mut Vec<u8>, now_us: u64) {
        let place = self.random.random_range(0..line.len());
        if self.strikes(Mishap::ChangedDigit, now_us)
            && let Some(byte) = line
                .iter_mut()
                .skip(place)
                .find(|byte| byte.is_ascii_hexdigit())
        {
            let digit = char::from(*byte).to_digit(16).unwrap_or(0);
            let other = (digit + self.random.random_range(1..16)) % 16;
            let other = char::from_digit(other, 16).unwrap_or('0');
            *byte = other.to_ascii_uppercase() as u8;
        }
        if self.strikes(Mishap::LostDigit, now_us) {
            line.remove(place);
        }
        if self.strikes(Mishap::CutLine, now_us) {
            line.truncate(place);
        }
    }

    fn line_end(&mut self, now_us: u64) -> &'static [u8] {
        if self.strikes(Mishap::MixedLineEnds, now_us) {
            let ends: [&[u8]; 4] = [b"\n", b"\r\n", b"\n\r", b"\r"];
            let which = self.random.random_range(0..ends.len());
            ends.get(which).copied().unwrap_or(b"\r")
        } else if self.strikes(Mishap::MissingLineEnds, now_us) {
            b""
        } else if self.strikes(Mishap::DoubledLineEnds, now_us) {
            b"\r\r"
        } else {
            b"\r"
        }
    }

    fn spoil_reply(&mut self, bytes: &mut Vec<u8>, now_us: u64) {
        if self.strikes(Mishap::RepeatsReply, now_us) {
            bytes.extend_from_within(..);
        }
        if self.strikes(Mishap::LosesPrompt, now_us) {
            bytes.pop();
        }
    }

    fn add_zeros(&mut self, bytes: Vec<u8>, now_us: u64) -> Vec<u8> {
        let mut with = Vec::with_capacity(bytes.len());
        for byte in bytes {
            if self.strikes(Mishap::Zeros, now_us) {
                with.push(0);
            }
            with.push(byte);
        }
        with
    }
}
