//! A form as written: each entry's value in its usual unit, with key and place kept for error messages.

use std::{collections::BTreeMap, ops::Range};

use toml::{
    Spanned,
    de::{DeTable, DeValue},
};

use super::{
    entry::{Entry, GENERAL, INJECTOR, Kind, RAIL, Unit},
    mistake::Mistake,
};

/// Largest number of cylinders that a form accepts (assumed).
const MOST_CYLINDERS: u8 = 16;

/// Resistance above what any multimeter shows, ohms (common practice: the best reach 100 MΩ).
const MOST_OHMS: f64 = 1e8;

/// One entry as written.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The value in the entry's usual unit; yes is 1, no is 0, an open winding infinity.
    pub value: f64,
    /// The number as written.
    pub number: f64,
    /// The key as written.
    pub key: String,
    /// Position of the value in the text.
    pub place: Range<usize>,
}

/// Entries of one section by stem.
pub type Section = BTreeMap<&'static str, Written>;

/// One injector's block.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Position of the cylinder number in the text.
    pub place: Range<usize>,
    /// Entries of the block.
    pub entries: Section,
}

/// The whole form as written.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sheet {
    /// Entries for the whole form.
    pub general: Section,
    /// Entries of the rail.
    pub rail: Section,
    /// Blocks of the injectors in the order of the form.
    pub injectors: Vec<Block>,
}

impl Sheet {
    /// Reads a form's text and checks each entry by itself; `most` is the highest cylinder number, where it is known.
    pub fn read(text: &str, most: Option<u8>, mistakes: &mut Vec<Mistake>) -> Self {
        match DeTable::parse(text) {
            Ok(table) => Reader {
                text,
                most: most.unwrap_or(MOST_CYLINDERS),
                mistakes,
            }
            .sheet(table.get_ref()),
            Err(error) => {
                let place = error.span().unwrap_or_default();
                mistakes.push(Mistake::at(text, &place, syntax(text, &error, &place)));
                Self::default()
            }
        }
    }
}

/// What the TOML grammar rejected, and what was most likely meant.
fn syntax(text: &str, error: &toml::de::Error, place: &Range<usize>) -> String {
    let start = text
        .get(..place.start)
        .and_then(|before| before.rfind('\n'));
    let line = text.get(start.map_or(0, |at| at + 1)..).unwrap_or_default();
    let line = line.lines().next().unwrap_or_default();
    let value = line.split_once('=').map_or("", |(_, value)| value.trim());
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    let comma = value
        .split_once(',')
        .is_some_and(|(whole, rest)| digits(whole.trim()) && rest.starts_with(char::is_numeric));
    let bare_word = value.starts_with(char::is_alphabetic);
    let starts_with_number = value.starts_with(|c: char| c.is_ascii_digit());
    let meant = match () {
        () if comma => "write the decimal with a point, as in 14.2".to_owned(),
        () if bare_word => "write true or false, \"open\" in quotes, or a number".to_owned(),
        () if value.is_empty() => {
            "put a # before an entry that was not measured, or fill it in".to_owned()
        }
        () if starts_with_number => {
            "write the number alone; its unit stands in the key, as in drop_psi = 8".to_owned()
        }
        () => error.message().lines().collect::<Vec<_>>().join(", "),
    };
    format!("cannot read {:?}: {meant}", line.trim())
}

struct Reader<'a> {
    text: &'a str,
    most: u8,
    mistakes: &'a mut Vec<Mistake>,
}

impl Reader<'_> {
    fn sheet(mut self, table: &DeTable<'_>) -> Sheet {
        let mut sheet = Sheet::default();
        let mut general = Vec::new();
        for (key, value) in table {
            match (key.get_ref().as_ref(), value.get_ref()) {
                ("rail", DeValue::Table(rail)) => {
                    let entries = rail.iter().collect();
                    sheet.rail = self.section(entries, RAIL, "[rail]");
                }
                ("injector", DeValue::Array(blocks)) => {
                    sheet.injectors = self.blocks(blocks.iter());
                }
                ("injector", DeValue::Table(_)) => {
                    self.fault(
                        key.span(),
                        "write [[injector]] with two brackets on each side",
                    );
                }
                ("rail", _) => self.fault(key.span(), "write [rail] on a line of its own"),
                _ => general.push((key, value)),
            }
        }
        sheet.general = self.section(general, GENERAL, "the top of the form");
        sheet
    }

    fn blocks<'t>(&mut self, blocks: impl Iterator<Item = &'t Spanned<DeValue<'t>>>) -> Vec<Block> {
        let mut all: Vec<Block> = Vec::new();
        for block in blocks {
            let DeValue::Table(table) = block.get_ref() else {
                self.fault(
                    block.span(),
                    "each injector is a block of its own: [[injector]]",
                );
                continue;
            };
            let is_cylinder = |key: &Spanned<_>| AsRef::<str>::as_ref(key.get_ref()) == "cylinder";
            let numbered = table.iter().find(|(key, _)| is_cylinder(key));
            let Some((_, number)) = numbered else {
                let what = format!(
                    "this [[injector]] has no cylinder: expected 1 to {}",
                    self.most
                );
                self.fault(block.span(), what);
                continue;
            };
            let rest = table.iter().filter(|(key, _)| !is_cylinder(key)).collect();
            let entries = self.section(rest, INJECTOR, "[[injector]]");
            if let Some(cylinder) = self.cylinder(number, &all) {
                all.push(Block {
                    cylinder,
                    place: number.span(),
                    entries,
                });
            }
        }
        all
    }

    fn cylinder(&mut self, number: &Spanned<DeValue<'_>>, before: &[Block]) -> Option<u8> {
        let written = self.text.get(number.span()).unwrap_or_default();
        let value = self.number(number).unwrap_or(f64::NAN);
        let whole = (1..=self.most).find(|cylinder| f64::from(*cylinder) == value);
        let Some(cylinder) = whole else {
            let what = format!("cylinder = {written}: expected 1 to {}", self.most);
            self.fault(number.span(), what);
            return None;
        };
        if before.iter().any(|block| block.cylinder == cylinder) {
            let what = format!(
                "cylinder = {written} again: each cylinder once, all its readings together"
            );
            self.fault(number.span(), what);
            return None;
        }
        Some(cylinder)
    }

    fn section(
        &mut self,
        written: Vec<(&Spanned<toml::de::DeString<'_>>, &Spanned<DeValue<'_>>)>,
        known: &'static [Entry],
        name: &str,
    ) -> Section {
        let mut section = Section::new();
        for (key, value) in written {
            let word: &str = key.get_ref();
            let found = known
                .iter()
                .find_map(|entry| Some((entry, unit_of(entry, word)?)));
            let Some((entry, unit)) = found else {
                let what = unknown(word, known, name);
                self.fault(key.span(), what);
                continue;
            };
            let Some((number, value_in_usual_unit)) = self.value(word, value, entry, unit) else {
                continue;
            };
            if let Some(first) = section.get(entry.stem) {
                let first: &Written = first;
                let what = format!(
                    "{word} and {} are one reading in two units: keep the one you read",
                    first.key
                );
                self.fault(key.span(), what);
                continue;
            }
            let written = Written {
                value: value_in_usual_unit,
                number,
                key: word.to_owned(),
                place: value.span(),
            };
            section.insert(entry.stem, written);
        }
        section
    }

    /// The number as written and its value in the usual unit.
    fn value(
        &mut self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        entry: &Entry,
        unit: &Unit,
    ) -> Option<(f64, f64)> {
        let written = self.text.get(value.span()).unwrap_or_default();
        let expected = match (&entry.kind, value.get_ref()) {
            (Kind::YesNo, DeValue::Boolean(yes)) => {
                let number = f64::from(u8::from(*yes));
                return Some((number, number));
            }
            (Kind::YesNo, _) => "true or false".to_owned(),
            (Kind::Ohms, DeValue::String(word)) if is_open(word) => {
                return Some((f64::INFINITY, f64::INFINITY));
            }
            (Kind::Ohms, _) => match self.number(value) {
                Some(ohms) if (0.0..=MOST_OHMS).contains(&ohms) || ohms == f64::INFINITY => {
                    return Some((ohms, ohms));
                }
                _ => "ohms from 0 to 100 million, or \"open\"".to_owned(),
            },
            (Kind::Measure { least, most, .. }, _) => {
                let (low, high) = (unit.written(*least), unit.written(*most));
                match self.number(value) {
                    Some(number) if (low..=high).contains(&number) => {
                        return Some((number, unit.usual(number)));
                    }
                    Some(_) => format!("{} to {}", plain(low), plain(high)),
                    None => "a number alone, without quotes or unit".to_owned(),
                }
            }
        };
        self.fault(
            value.span(),
            format!("{key} = {written}: expected {expected}"),
        );
        None
    }

    fn number(&self, value: &Spanned<DeValue<'_>>) -> Option<f64> {
        match value.get_ref() {
            DeValue::Integer(_) | DeValue::Float(_) => {
                let text = self.text.get(value.span())?.replace('_', "");
                text.parse().ok()
            }
            _ => None,
        }
    }

    fn fault(&mut self, place: Range<usize>, what: impl Into<String>) {
        self.mistakes.push(Mistake::at(self.text, &place, what));
    }
}

impl Unit {
    fn usual(&self, number: f64) -> f64 {
        (number + self.offset) * self.factor
    }

    fn written(&self, usual: f64) -> f64 {
        usual / self.factor - self.offset
    }
}

/// A number without superfluous decimals.
pub fn plain(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Whether a word is what multimeters show, or people write, for an open circuit.
fn is_open(word: &str) -> bool {
    ["open", "ol", "o.l", "o.l."].contains(&word.trim().to_ascii_lowercase().as_str())
}

/// The unit in which a key gives an entry; `None` when it is a different entry's key.
fn unit_of<'a>(entry: &'a Entry, key: &str) -> Option<&'a Unit> {
    /// The unit of a plain number.
    const NONE: Unit = Unit {
        suffix: "",
        factor: 1.0,
        offset: 0.0,
    };
    let rest = key.strip_prefix(entry.stem)?;
    match &entry.kind {
        Kind::YesNo | Kind::Ohms => rest.is_empty().then_some(&NONE),
        Kind::Measure { units, .. } => units.iter().find(|unit| unit.suffix == rest),
    }
}

fn unknown(word: &str, known: &[Entry], name: &str) -> String {
    let bare = known.iter().find(|entry| entry.stem == word);
    let elsewhere = [
        (GENERAL, "the top of the form"),
        (RAIL, "[rail]"),
        (INJECTOR, "[[injector]]"),
    ];
    let elsewhere = elsewhere.into_iter().find(|(entries, place)| {
        *place != name && entries.iter().any(|entry| unit_of(entry, word).is_some())
    });
    match (bare, elsewhere) {
        (Some(entry), _) => format!("{word} needs its unit: {}", entry.keys().join(", ")),
        (_, Some((_, place))) => format!("{word} belongs in {place}, not in {name}"),
        _ => {
            let keys: Vec<String> = known
                .iter()
                .filter_map(|entry| entry.keys().into_iter().next())
                .collect();
            format!(
                "{word} is not known in {name}; known are {}",
                keys.join(", ")
            )
        }
    }
}
