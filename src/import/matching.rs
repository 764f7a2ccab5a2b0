//! The quantity that a column header names, by its words.

use pintle_protocol::{Address, Item};

use super::{
    header_words::{FILLERS, SAME, SAYINGS, Saying},
    unit_words::Measure,
};
use crate::quantity::{heading, item_named, item_of_request};

/// A header that says a quantity.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Said {
    pub item: Item,
    /// The unit that the header names.
    pub unit: Option<Measure>,
    /// How a misspelt header was read.
    pub read_as: Option<String>,
}

/// Why a header says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unsaid {
    /// Its words are no known quantity.
    Unknown,
    /// They could be several.
    Ambiguous,
}

/// Finds out what a header says.
///
/// `own_unit` gives a quantity's own unit: a header whose unit does not fit says something else.
pub(super) fn read_header(
    header: &str,
    own_unit: impl Fn(Item) -> Option<Measure>,
) -> Result<Said, Unsaid> {
    if let Some(item) = own_heading(header) {
        return Ok(Said {
            item,
            unit: own_unit(item),
            read_as: None,
        });
    }
    let (text, unit) = split_unit(header);
    if let Some(item) = item_of_request(text.trim()) {
        return Ok(Said {
            item,
            unit,
            read_as: None,
        });
    }
    let (words, misspelt) = spelling_corrected(words_of(&text));
    let read_as = || misspelt.then(|| words.join(" "));
    match item_said(&words, unit, &own_unit) {
        Err(Unsaid::Unknown) if unit.is_none() => {}
        outcome => {
            return outcome.map(|item| Said {
                item,
                unit,
                read_as: read_as(),
            });
        }
    }
    // The last word may be a unit without brackets: `coolant_temp_f`.
    let (last, words_before) = words.split_last().ok_or(Unsaid::Unknown)?;
    let unit = Some(Measure::of(last).ok_or(Unsaid::Unknown)?);
    let item = item_said(words_before, unit, &own_unit)?;
    Ok(Said {
        item,
        unit,
        read_as: read_as(),
    })
}

/// What a heading of our own tables says: `name (unit)`, behind a controller's address where several report the same.
fn own_heading(header: &str) -> Option<Item> {
    let header = header.trim();
    let name = match header.split_once(' ') {
        Some((address, name)) if address.parse::<Address>().is_ok() => name,
        _ => header,
    };
    let before_unit = name.rsplit_once(" (").map(|(before, _)| before);
    [Some(name), before_unit]
        .into_iter()
        .flatten()
        .filter_map(item_named)
        .find(|item| heading(*item) == name)
}

/// Splits off a unit in brackets or after a comma; brackets around anything else stay.
pub(super) fn split_unit(header: &str) -> (String, Option<Measure>) {
    let header = header.trim();
    let in_brackets = [('(', ')'), ('[', ']')]
        .into_iter()
        .find_map(|(open, close)| {
            let (before, rest) = header.rsplit_once(open)?;
            let (inside, after) = rest.split_once(close)?;
            Some((format!("{before} {after}"), inside.trim()))
        });
    let after_comma = || {
        header
            .rsplit_once(',')
            .map(|(before, after)| (before.to_owned(), after))
    };
    match in_brackets.or_else(after_comma) {
        Some((text, "")) => (text, None),
        Some((text, word)) => match Measure::of(word) {
            Some(unit) => (text, Some(unit)),
            None => (header.to_owned(), None),
        },
        None => (header.to_owned(), None),
    }
}

/// The words of a header: lower case, split at signs, at capitals inside words and around numbers, synonyms replaced,
/// and `bank 1`, `b1`, `sensor 2`, `s2` as one word each.
pub(super) fn words_of(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for piece in pieces_of(text) {
        let number_of = match words.last().map(String::as_str) {
            Some("bank" | "b") => Some("bank"),
            Some("sensor" | "s") => Some("sensor"),
            _ => None,
        };
        let is_number = piece.bytes().all(|byte| byte.is_ascii_digit());
        match SAME.iter().find(|(word, _)| *word == piece) {
            _ if is_number && let Some(name) = number_of => {
                words.pop();
                words.push(format!("{name}{piece}"));
            }
            // `STFT1` is bank 1.
            _ if is_number && words.last().is_some_and(|word| word == "trim") => {
                words.push(format!("bank{piece}"));
            }
            Some((_, meaning)) => words.extend(meaning.iter().map(|word| (*word).to_owned())),
            None => words.push(piece),
        }
    }
    words
}

fn pieces_of(text: &str) -> Vec<String> {
    #[derive(PartialEq, Clone, Copy)]
    enum Class {
        Sign,
        Lower,
        Upper,
        Digit,
    }
    let class = |c: char| match c {
        _ if c.is_numeric() => Class::Digit,
        _ if c.is_uppercase() => Class::Upper,
        _ if c.is_alphabetic() => Class::Lower,
        _ => Class::Sign,
    };
    let mut pieces: Vec<String> = Vec::new();
    let mut before = Class::Sign;
    for c in text.chars() {
        let now = class(c);
        let continues = now == before || (before == Class::Upper && now == Class::Lower);
        match pieces.last_mut() {
            _ if now == Class::Sign => {}
            Some(piece) if continues => piece.extend(c.to_lowercase()),
            _ => pieces.push(c.to_lowercase().collect()),
        }
        before = now;
    }
    pieces
}

/// Replaces unknown words that are one letter away from exactly one known word; returns whether there were any.
fn spelling_corrected(words: Vec<String>) -> (Vec<String>, bool) {
    let mut misspelt = false;
    let corrected = words
        .into_iter()
        .map(|word| match nearest_known(&word) {
            Some(known) => {
                misspelt = true;
                known.to_owned()
            }
            None => word,
        })
        .collect();
    (corrected, misspelt)
}

/// The one known word that a longer unknown word is one letter away from.
fn nearest_known(word: &str) -> Option<&'static str> {
    /// Letters from which a word may be misspelt: shorter ones have too many neighbours (assumed).
    const SHORTEST: usize = 4;
    if word.len() < SHORTEST || known_words().any(|known| known == word) {
        return None;
    }
    let mut near = known_words()
        .filter(|known| known.len() >= SHORTEST && strsim::levenshtein(word, known) == 1);
    let first = near.next()?;
    near.all(|other| other == first).then_some(first)
}

fn known_words() -> impl Iterator<Item = &'static str> {
    let said = SAYINGS
        .iter()
        .flat_map(|saying| saying.required.iter().chain(saying.allowed));
    said.chain(FILLERS).copied()
}

/// The quantity that the words say, if its unit fits.
fn item_said(
    words: &[String],
    unit: Option<Measure>,
    own_unit: impl Fn(Item) -> Option<Measure>,
) -> Result<Item, Unsaid> {
    let fits = |item: &Item| match (unit, own_unit(*item)) {
        (Some(said), Some(own)) => said.fits(own),
        _ => true,
    };
    let mut best: Vec<(usize, Item)> = SAYINGS
        .iter()
        .filter(|saying| saying.says(words))
        .filter_map(|saying| Some((saying.required.len(), item_of_request(saying.request)?)))
        .filter(|(_, item)| fits(item))
        .collect();
    let most = best
        .iter()
        .map(|(count, _)| *count)
        .max()
        .ok_or(Unsaid::Unknown)?;
    best.retain(|(count, _)| *count == most);
    match best.split_first() {
        Some(((_, item), others)) if others.iter().all(|(_, other)| other == item) => Ok(*item),
        _ => Err(Unsaid::Ambiguous),
    }
}

impl Saying {
    fn says(&self, words: &[String]) -> bool {
        let among = |list: &[&str], word: &String| list.contains(&word.as_str());
        self.required
            .iter()
            .all(|required| words.iter().any(|word| word == required))
            && words.iter().all(|word| {
                among(self.required, word) || among(self.allowed, word) || among(FILLERS, word)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(header: &str) -> Result<String, Unsaid> {
        let own_unit = |item: Item| {
            Measure::of(match item.to_string().as_str() {
                "010C" => "rpm",
                "010D" => "km/h",
                "0105" | "010F" => "°C",
                _ => return None,
            })
        };
        read_header(header, own_unit).map(|said| said.item.to_string())
    }

    #[test]
    fn every_heading_of_our_own_tables_is_understood() {
        let rows = pintle_protocol::pid::table::rows();
        let current = rows.flat_map(|row| {
            (0..row.quantities.len() as u8).map(|part| Item::Current { pid: row.pid, part })
        });
        let counters = ["06A20C", "06A30B", "060105"].map(|item| item.parse().unwrap());
        for item in current.chain(counters) {
            for address in ["", "7E8 ", "18DAF110 ", "10 "] {
                let heading = heading(item);
                let read = own_heading(&format!("{address}{heading}")).unwrap();
                // some of the table's names are those of two quantities
                assert_eq!(crate::quantity::heading(read), heading, "{item}");
            }
        }
        assert_eq!(own_heading("10 litres"), None);
    }

    #[test]
    fn usual_headers_are_understood() {
        for (header, request) in [
            ("Short Term Fuel Trim Bank 1 (%)", "0106"),
            ("STFT B1", "0106"),
            ("STFT1", "0106"),
            ("SHRTFT2 [%]", "0108"),
            ("LTFT bank 2", "0109"),
            ("Fuel trim, long term (bank 1)", "0107"),
            ("EngineRPM", "010C"),
            ("Engine speed", "010C"),
            ("Speed (km/h)", "010D"),
            ("Speed [rpm]", "010C"),
            ("coolant_temp_f", "0105"),
            ("ECT", "0105"),
            ("Intake Air Temperature, °C", "010F"),
            ("MAF (g/s)", "0110"),
            ("Intake Manifold Absolute Pressure", "010B"),
            ("Calculated engine load value", "0104"),
            ("Absolute load", "0143"),
            ("Commanded Lambda", "0144"),
            ("catalyst temperature b2s1", "013D"),
            ("010c", "010C"),
            ("06A20C", "06A20C"),
        ] {
            assert_eq!(said(header).as_deref(), Ok(request), "{header}");
        }
    }

    #[test]
    fn a_header_that_says_something_else_or_nothing_plain_is_left_out() {
        for header in [
            "Speed (GPS) (km/h)",
            "Speed",
            "Fuel tank pressure",
            "Fuel rail pressure",
            "Short term fuel trim bank 1 sensor 2",
            "Coolant (%)",
            "Temperature",
            "Notes",
            "Trim",
            "",
        ] {
            assert!(said(header).is_err(), "{header}: {:?}", said(header));
        }
    }

    #[test]
    fn one_wrong_letter_is_read_when_only_one_word_is_near() {
        let slip = read_header("ENGINE_RUN_TINE ()", |_| None).unwrap();
        assert_eq!(slip.item.to_string(), "011F");
        assert_eq!(slip.read_as.as_deref(), Some("engine run time"));
        assert_eq!(nearest_known("tine"), Some("time"));
        assert_eq!(nearest_known("coolent"), Some("coolant"));
        assert_eq!(nearest_known("codec"), None);
    }
}
