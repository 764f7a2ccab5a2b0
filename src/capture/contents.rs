//! What is in a capture: items with their rates, unanswered requests, pauses, remarks, damage.

use std::{
    collections::{BTreeMap, HashMap},
    path::Path,
};

use pintle_protocol::Item;

use super::{
    damage::Damage,
    decode::decode_row,
    error::CaptureError,
    header::Header,
    reader::Reader,
    row::{Kind, Row},
};

/// Shortest pause between answers that is reported as a gap, µs (assumed).
const SHORTEST_GAP_US: u64 = 5_000_000;

/// Largest number of gaps, marks and link states kept one by one; all are counted (assumed).
const MOST_KEPT: usize = 1000;

/// Largest number of controllers counted one by one (a bus has 256 addresses).
const MOST_CONTROLLERS: usize = 256;
/// Name under which further controllers are counted.
const OTHERS: &str = "others";

/// Largest number of different requests without a number, or without an answer, counted one by one (assumed).
const MOST_REQUESTS: usize = 2_000;

/// What is in a capture.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Contents {
    /// Where the recording comes from.
    pub header: Header,
    /// Rows by kind.
    pub rows: RowCounts,
    /// Time of the last row, µs.
    pub last_us: u64,
    /// What was read, by controller and item.
    pub items: BTreeMap<(String, Item), Tally>,
    /// Answers that hold no number of a known item, by controller and request.
    pub other_answers: BTreeMap<(String, String), u64>,
    /// Requests that were not answered as data, by controller, request and reason.
    pub unanswered: BTreeMap<(String, String, String), u64>,
    /// Stretches without any answer: from and to, µs.
    pub gaps: Kept<(u64, u64)>,
    /// Remarks: time in µs and text.
    pub marks: Kept<(u64, String)>,
    /// States of the link: time in µs and text.
    pub links: Kept<(u64, String)>,
    /// What was wrong with the file.
    pub damage: Damage,
}

/// Rows by kind.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct RowCounts {
    /// Answers.
    pub data: u64,
    /// Asked, not answered as data.
    pub none: u64,
    /// Remarks.
    pub mark: u64,
    /// States of the link.
    pub link: u64,
    /// Numbers of other loggers.
    pub value: u64,
}

/// The readings of one item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tally {
    /// How many.
    pub readings: u64,
    /// Time of the first, µs.
    pub first_us: u64,
    /// Time of the last, µs.
    pub last_us: u64,
    /// The first value, in the item's unit.
    pub first: f64,
    /// The last value.
    pub last: f64,
    /// The lowest value.
    pub low: f64,
    /// The highest value.
    pub high: f64,
}

/// The first of many things, and how many there were.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept<T> {
    /// The first thousand.
    pub first: Vec<T>,
    /// All of them.
    pub count: u64,
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self {
            first: Vec::new(),
            count: 0,
        }
    }
}

impl<T> Kept<T> {
    fn push(&mut self, thing: T) {
        self.count += 1;
        if self.first.len() < MOST_KEPT {
            self.first.push(thing);
        }
    }
}

impl Tally {
    fn starting(t_us: u64, value: f64) -> Self {
        Self {
            readings: 0,
            first_us: t_us,
            last_us: t_us,
            first: value,
            last: value,
            low: value,
            high: value,
        }
    }

    fn push(&mut self, t_us: u64, value: f64) {
        self.readings += 1;
        self.last_us = t_us;
        self.last = value;
        self.low = self.low.min(value);
        self.high = self.high.max(value);
    }

    /// Readings per second from the first to the last; `None` for a single moment.
    pub fn per_second(&self) -> Option<f64> {
        let seconds = (self.last_us - self.first_us) as f64 / 1e6;
        (seconds > 0.0).then(|| (self.readings - 1) as f64 / seconds)
    }
}

impl Contents {
    /// Reads a capture through.
    ///
    /// # Errors
    /// When there is no file, it does not begin as a capture does, or the medium cannot be read.
    pub fn read(path: &Path) -> Result<Self, CaptureError> {
        let mut reader = Reader::open(path)?;
        let mut contents = Self {
            header: reader.header().clone(),
            ..Self::default()
        };
        let mut answers = Answers::default();
        while let Some(row) = reader.next_row()? {
            contents.count(&row, &mut answers);
        }
        contents.damage = reader.damage().clone();
        contents.items = answers.items();
        Ok(contents)
    }

    fn count(&mut self, row: &Row<'_>, answers: &mut Answers) {
        self.last_us = row.t_us;
        let owned = || (row.t_us, row.response.to_owned());
        match row.kind {
            Kind::Data => self.rows.data += 1,
            Kind::Value => self.rows.value += 1,
            Kind::Mark => {
                self.rows.mark += 1;
                self.marks.push(owned());
            }
            Kind::Link => {
                self.rows.link += 1;
                self.links.push(owned());
            }
            Kind::None => {
                self.rows.none += 1;
                let key = [row.ecu, row.request, row.response].map(str::to_owned);
                count_bounded(&mut self.unanswered, key.into(), || {
                    [OTHERS, "", ""].map(str::to_owned).into()
                });
            }
        }
        if matches!(row.kind, Kind::Data | Kind::Value) {
            if let Some(pause) = answers.pause_before(row.t_us) {
                self.gaps.push(pause);
            }
            if !answers.count(row) {
                let key = [row.ecu, row.request].map(str::to_owned);
                count_bounded(&mut self.other_answers, key.into(), || {
                    [OTHERS, ""].map(str::to_owned).into()
                });
            }
        }
    }
}

/// Counts one more of a key, or of the others where there are too many keys already.
fn count_bounded<K: Ord>(counts: &mut BTreeMap<K, u64>, key: K, others: impl Fn() -> K) {
    let is_full = counts.len() >= MOST_REQUESTS && !counts.contains_key(&key);
    let key = if is_full { others() } else { key };
    *counts.entry(key).or_default() += 1;
}

/// Counting of answers on the way.
#[derive(Default)]
struct Answers {
    by_ecu: HashMap<String, HashMap<Item, Tally>>,
    last_us: Option<u64>,
}

impl Answers {
    /// The gap that an answer at this time ends, if it does.
    fn pause_before(&mut self, t_us: u64) -> Option<(u64, u64)> {
        let last_us = self.last_us.replace(t_us)?;
        (t_us - last_us >= SHORTEST_GAP_US).then_some((last_us, t_us))
    }

    /// Counts the numbers of an answer; false when it holds none.
    fn count(&mut self, row: &Row<'_>) -> bool {
        let is_known = self.by_ecu.contains_key(row.ecu);
        let ecu = if is_known || self.by_ecu.len() < MOST_CONTROLLERS {
            row.ecu
        } else {
            OTHERS
        };
        if !self.by_ecu.contains_key(ecu) {
            self.by_ecu.insert(ecu.to_owned(), HashMap::new());
        }
        let Some(items) = self.by_ecu.get_mut(ecu) else {
            return false;
        };
        let mut any = false;
        let _ = decode_row(row, |item, value| {
            any = true;
            let tally = items
                .entry(item)
                .or_insert_with(|| Tally::starting(row.t_us, value));
            tally.push(row.t_us, value);
        });
        any
    }

    fn items(self) -> BTreeMap<(String, Item), Tally> {
        let by_ecu = self.by_ecu.into_iter();
        by_ecu
            .flat_map(|(ecu, items)| {
                items
                    .into_iter()
                    .map(move |(item, tally)| ((ecu.clone(), item), tally))
            })
            .collect()
    }
}
