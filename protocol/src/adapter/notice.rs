//! The adapter's own words: what it says when it does not hand on an answer of the car.

use std::fmt;

/// Something the adapter said about itself or the bus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// Done.
    Ok,
    /// It did not understand the command.
    NotUnderstood,
    /// The car did not answer in time.
    NoData,
    /// It is trying one bus after the other.
    Searching,
    /// No bus gave an answer.
    UnableToConnect,
    /// It is waking the bus.
    BusWaking,
    /// The bus woke.
    BusAwake,
    /// The bus did not wake.
    BusAsleep,
    /// The bus was never free.
    BusBusy,
    /// The bus is at a level it must not have.
    BusError,
    /// CAN does not work: speed, wiring or no other node.
    CanError,
    /// An answer was damaged.
    DataError,
    /// The line it stands on is damaged.
    LineDamaged,
    /// The line it stands on was not received whole.
    LineCut,
    /// What it sent did not appear on the bus.
    FeedbackError,
    /// Answers came faster than they could be handed on; some are lost.
    BufferFull,
    /// A byte from us stopped it.
    Stopped,
    /// It restarted because its supply was too low.
    LowVoltageReset,
    /// A fault inside it, with its number.
    Fault(u8),
    /// Name and version: it has just started.
    Banner(String),
    /// Words that are not known.
    Unknown(String),
}

/// Words, without spaces, and what they mean. Longer ones stand before those they end with.
const WORDS: [(&str, Notice); 15] = [
    ("UNABLETOCONNECT", Notice::UnableToConnect),
    ("LVRESET", Notice::LowVoltageReset),
    ("<DATAERROR", Notice::LineDamaged),
    ("DATAERROR", Notice::DataError),
    ("<RXERROR", Notice::LineCut),
    ("BUFFERFULL", Notice::BufferFull),
    ("BUSBUSY", Notice::BusBusy),
    ("BUSERROR", Notice::BusError),
    ("CANERROR", Notice::CanError),
    ("FBERROR", Notice::FeedbackError),
    ("NODATA", Notice::NoData),
    ("STOPPED", Notice::Stopped),
    ("SEARCHING", Notice::Searching),
    ("OK", Notice::Ok),
    ("?", Notice::NotUnderstood),
];

impl Notice {
    /// Whether the adapter started over and has lost its settings.
    pub fn is_restart(&self) -> bool {
        matches!(self, Self::LowVoltageReset | Self::Banner(_))
    }

    /// Whether the car, not the adapter or the line, is what is silent.
    pub fn is_silent_car(&self) -> bool {
        matches!(self, Self::NoData | Self::UnableToConnect | Self::BusAsleep)
    }

    /// Whether it only says that the adapter is at work.
    pub fn is_progress(&self) -> bool {
        matches!(self, Self::Searching | Self::BusWaking | Self::BusAwake)
    }
}

impl fmt::Display for Notice {
    /// The adapter's words, as a capture keeps them.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = match self {
            Self::Ok => "OK",
            Self::NotUnderstood => "?",
            Self::NoData => "NO DATA",
            Self::Searching => "SEARCHING",
            Self::UnableToConnect => "UNABLE TO CONNECT",
            Self::BusWaking => "BUS INIT",
            Self::BusAwake => "BUS INIT: OK",
            Self::BusAsleep => "BUS INIT: ERROR",
            Self::BusBusy => "BUS BUSY",
            Self::BusError => "BUS ERROR",
            Self::CanError => "CAN ERROR",
            Self::DataError => "DATA ERROR",
            Self::LineDamaged => "<DATA ERROR",
            Self::LineCut => "<RX ERROR",
            Self::FeedbackError => "FB ERROR",
            Self::BufferFull => "BUFFER FULL",
            Self::Stopped => "STOPPED",
            Self::LowVoltageReset => "LV RESET",
            Self::Fault(number) => return write!(f, "ERR{number:02}"),
            Self::Banner(text) | Self::Unknown(text) => text,
        };
        f.write_str(words)
    }
}

/// A line taken apart: what the adapter says in it, and what is left of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Split<'a> {
    /// The adapter's words in it, in order.
    pub notices: Vec<Notice>,
    /// What is no word of the adapter.
    pub rest: &'a str,
    /// A word stood behind the rest: the rest is damaged or was cut short.
    pub spoilt: bool,
}

/// Takes the known words off both ends of `line`, which holds upper-case text without white space.
pub fn split(line: &str) -> Split<'_> {
    let mut notices = Vec::new();
    let mut rest = line;
    while let Some((notice, after)) = leading(rest) {
        notices.push(notice);
        rest = after;
    }
    if let Some(notice) = exactly(rest) {
        notices.push(notice);
        rest = "";
    }
    let mut spoilt = false;
    if let Some((before, notice)) = trailing(rest) {
        notices.push(notice);
        rest = before;
        spoilt = !rest.is_empty();
    }
    Split {
        notices,
        rest,
        spoilt,
    }
}

/// Progress words, with their dots, that may stand before data without a line end.
fn leading(line: &str) -> Option<(Notice, &str)> {
    if let Some(after) = line.strip_prefix("SEARCHING") {
        return Some((Notice::Searching, after.trim_start_matches('.')));
    }
    let after = line
        .strip_prefix("BUSINIT")
        .map(|after| after.trim_start_matches([':', '.']))?;
    if let Some(after) = after.strip_prefix("OK") {
        return Some((Notice::BusAwake, after));
    }
    if let Some(after) = after.strip_prefix("ERROR") {
        return Some((Notice::BusAsleep, after));
    }
    Some((Notice::BusWaking, after))
}

fn exactly(line: &str) -> Option<Notice> {
    let known = WORDS.iter().find(|(word, _)| *word == line);
    known.map(|(_, notice)| notice.clone()).or_else(|| {
        let number = line.strip_prefix("ERR")?;
        let digits = number.len() == 2 && number.bytes().all(|b| b.is_ascii_digit());
        number.parse().ok().filter(|_| digits).map(Notice::Fault)
    })
}

/// A word behind something else. `OK` and `?` are too short to tell.
fn trailing(line: &str) -> Option<(&str, Notice)> {
    let long = WORDS.iter().filter(|(word, _)| word.len() > 2);
    long.filter_map(|(word, notice)| Some((line.strip_suffix(word)?, notice.clone())))
        .next()
}

/// What words that are not known mean: a name with a version behind it is a banner.
pub fn unknown_words(line: &str) -> Notice {
    let text = line.trim().to_owned();
    let version = text
        .rsplit_once(char::is_whitespace)
        .and_then(|(_, last)| last.strip_prefix(['v', 'V']));
    let is_version =
        |version: &str| version.starts_with(|c: char| c.is_ascii_digit()) && version.contains('.');
    match version {
        Some(version) if is_version(version) => Notice::Banner(text),
        _ => Notice::Unknown(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notices(line: &str) -> Vec<Notice> {
        let split = split(line);
        assert_eq!(split.rest, "", "{line}");
        split.notices
    }

    #[test]
    fn every_word_is_known() {
        for (word, notice) in WORDS {
            assert_eq!(notices(word), [notice], "{word}");
        }
        assert_eq!(notices("ERR94"), [Notice::Fault(94)]);
        assert_eq!(notices("BUSINIT:...OK"), [Notice::BusAwake]);
        assert_eq!(notices("BUSINIT:OK"), [Notice::BusAwake]);
        assert_eq!(notices("BUSINIT:...ERROR"), [Notice::BusAsleep]);
        assert_eq!(notices("BUSINIT:..."), [Notice::BusWaking]);
        assert_eq!(
            notices("SEARCHING...UNABLETOCONNECT"),
            [Notice::Searching, Notice::UnableToConnect]
        );
    }

    #[test]
    fn data_glued_to_progress_words_is_kept() {
        let split = split("SEARCHING...7E8064100BE3FA813");
        assert_eq!(split.notices, [Notice::Searching]);
        assert_eq!(split.rest, "7E8064100BE3FA813");
        assert!(!split.spoilt);
    }

    #[test]
    fn data_before_an_error_word_is_spoilt() {
        for (line, notice) in [
            ("486B10410C<DATAERROR", Notice::LineDamaged),
            ("7E804410C0B<RXERROR", Notice::LineCut),
            ("7E804410C0BSTOPPED", Notice::Stopped),
        ] {
            let split = split(line);
            assert_eq!(split.notices, [notice]);
            assert!(split.spoilt, "{line}");
        }
    }

    #[test]
    fn a_name_with_a_version_is_a_banner() {
        let banner = |text: &str| matches!(unknown_words(text), Notice::Banner(_));
        assert!(banner("SERIAL ADAPTER v3.2"));
        assert!(banner("X V2.1a"));
        assert!(!banner("login: v"));
        assert!(!banner("12.6V"));
        assert!(!banner("HELLO WORLD"));
    }
}
