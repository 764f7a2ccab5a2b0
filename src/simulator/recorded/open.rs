//! A capture read into a recorded car.

use std::collections::{BTreeMap, btree_map::Entry};

use pintle_protocol::{Address, Item, bus::hex, service::request::changes_the_car};
use tokio::sync::watch;

use super::{NEGATIVE, RecordedCar, Stage, controller::Controller, on_bus, request::parts, value};
use crate::{
    capture::{CaptureError, Damage, Header, Kind, Reader, Row},
    quantity::item_of_request,
    simulator::bus::Bus,
};

/// Longest time without any answer that is no silence of the car, µs: readings older than 10 s are not believed.
const SILENCE_US: u64 = 10_000_000;
/// Why a request has no answer: no controller had one (the adapter's words).
const NOBODY: &str = "NO DATA";
/// How a refusal begins; the reason follows in hex.
const REFUSED: &str = "negative:";
/// A controller only asks to wait.
const WAITS: u8 = 0x78;

/// A capture that was read.
#[derive(Debug)]
pub struct Opened {
    /// The car.
    pub car: RecordedCar,
    /// Answers that cannot be given again, by request.
    pub left_out: BTreeMap<String, u64>,
    /// What was wrong with the file.
    pub damage: Damage,
}

/// Why a capture cannot stand for a car.
#[derive(Debug, thiserror::Error)]
pub enum RecordedError {
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// No answer in it.
    #[error("the capture holds no answer of a car that can be given again")]
    NoAnswers,
}

impl RecordedError {
    /// What the person can do now.
    pub fn next_step(&self) -> &'static str {
        match self {
            Self::Capture(error) => error.next_step(),
            Self::NoAnswers => "look what it holds with `pintle inspect`, and take another capture",
        }
    }
}

/// Reads a capture to its end.
///
/// # Errors
/// When the file cannot be read, or holds no answers.
pub fn open(mut reader: Reader) -> Result<Opened, RecordedError> {
    let mut loading = Loading::new(reader.header().clone());
    while let Some(row) = reader.next_row()? {
        loading.take(&row);
    }
    loading.finish(reader.damage().clone())
}

/// A capture being read.
struct Loading {
    header: Header,
    /// Known from the first row on that names a controller or an answer.
    bus: Option<Bus>,
    controllers: BTreeMap<Address, Controller>,
    unanswered: BTreeMap<Vec<u8>, Vec<u64>>,
    several: Several,
    times: Times,
    left_out: BTreeMap<String, u64>,
}

/// What became of requests for several current values.
#[derive(Default)]
struct Several {
    refused: bool,
    answered: bool,
}

/// Times of answers, µs.
#[derive(Default)]
struct Times {
    first_us: Option<u64>,
    last_us: u64,
    /// How many differ from the one before.
    count: u64,
    gaps_us: Vec<(u64, u64)>,
}

impl Loading {
    fn new(header: Header) -> Self {
        Self {
            header,
            bus: None,
            controllers: BTreeMap::new(),
            unanswered: BTreeMap::new(),
            several: Several::default(),
            times: Times::default(),
            left_out: BTreeMap::new(),
        }
    }

    fn take(&mut self, row: &Row<'_>) {
        let taken = match row.kind {
            Kind::Data => self.data(row),
            Kind::Value => self.value(row),
            Kind::None => return self.no_answer(row),
            Kind::Mark | Kind::Link => return,
        };
        match taken {
            Some(()) => self.times.add(row.t_us),
            None => match self.left_out.entry(row.request.to_owned()) {
                Entry::Vacant(entry) => {
                    entry.insert(1);
                }
                Entry::Occupied(mut entry) => *entry.get_mut() += 1,
            },
        }
    }

    /// An answer; `None` when it cannot be given again.
    fn data(&mut self, row: &Row<'_>) -> Option<()> {
        let (request, response) = bytes_of(row)?;
        if changes_the_car(&request) {
            return Some(());
        }
        let bus = self.bus(row);
        if !on_bus::is_short_enough(bus, &response) {
            return None;
        }
        self.several.answered |= !parts(&request).is_empty();
        let controller = self.controller(row)?;
        controller.nameless |= row.ecu.is_empty();
        controller.add(row.t_us, &request, &response);
        Some(())
    }

    /// A number; `None` when there are no bytes for it.
    fn value(&mut self, row: &Row<'_>) -> Option<()> {
        let value = row.response.parse().ok()?;
        match item_of_request(row.request)? {
            Item::Current { pid, .. } => {
                let data = value::data(pid, value)?;
                let answer = [&[0x41, pid.0], data.as_slice()].concat();
                let controller = self.controller(row)?;
                controller.add(row.t_us, &[0x01, pid.0], &answer);
            }
            Item::Monitor { mid, tid } => {
                let record = value::test_record(mid, tid, value)?;
                if !self.bus(row).is_can() {
                    return None;
                }
                self.controller(row)?.add_test(row.t_us, record);
            }
        }
        Some(())
    }

    /// No answer. What went wrong between adapter and program says nothing about the car.
    fn no_answer(&mut self, row: &Row<'_>) {
        let Ok(request) = hex::decode(row.request) else {
            return;
        };
        let several = !parts(&request).is_empty();
        if row.response == NOBODY {
            self.several.refused |= several;
            // a joined request may be left without an answer where each of its parts alone is answered
            if !several {
                self.unanswered.entry(request).or_default().push(row.t_us);
            }
            return;
        }
        let reason = row.response.strip_prefix(REFUSED);
        let reason = reason.and_then(|reason| u8::from_str_radix(reason, 16).ok());
        if let (Some(reason), Some(service)) =
            (reason.filter(|code| *code != WAITS), request.first())
        {
            self.several.refused |= several;
            let refusal = [NEGATIVE, *service, reason];
            if let Some(controller) = self.controller(row) {
                controller.add(row.t_us, &request, &refusal);
            }
        }
    }

    fn bus(&mut self, row: &Row<'_>) -> Bus {
        let header = &self.header;
        let engine = || engine_of(header).or_else(|| row.ecu.parse().ok());
        *self
            .bus
            .get_or_insert_with(|| on_bus::bus_of(header, engine()))
    }

    /// The controller that answered; where the row does not tell, the one that runs the engine. `None` when it cannot be
    /// on this bus.
    fn controller(&mut self, row: &Row<'_>) -> Option<&mut Controller> {
        let bus = self.bus(row);
        let named = match row.ecu {
            "" => engine_of(&self.header).filter(|engine| on_bus::fits(bus, *engine)),
            ecu => Some(ecu.parse().ok()?),
        };
        let address = named.unwrap_or(bus.addresses().0);
        if on_bus::fits(bus, address) {
            Some(self.controllers.entry(address).or_default())
        } else {
            None
        }
    }

    fn finish(self, damage: Damage) -> Result<Opened, RecordedError> {
        let first_us = self.times.first_us.ok_or(RecordedError::NoAnswers)?;
        let bus = self.bus.ok_or(RecordedError::NoAnswers)?;
        let last_us = self.times.last_us;
        let car = RecordedCar {
            bus,
            controllers: self.controllers,
            unanswered: self.unanswered,
            takes_several: bus.is_can() && (self.several.answered || !self.several.refused),
            silences_us: self.times.silences_us(),
            first_us,
            last_us,
            from_us: first_us,
            now_us: 0,
            begun_us: None,
            stage: watch::Sender::new(Stage::Waiting),
        };
        Ok(Opened {
            car,
            left_out: self.left_out,
            damage,
        })
    }
}

impl Times {
    fn add(&mut self, t_us: u64) {
        if self.first_us.is_none() {
            (self.first_us, self.last_us) = (Some(t_us), t_us);
        }
        if t_us - self.last_us > SILENCE_US {
            self.gaps_us.push((self.last_us, t_us));
        }
        self.count += u64::from(t_us > self.last_us);
        self.last_us = t_us;
    }

    /// Times without any answer; none in a capture most of whose answers are that far apart.
    fn silences_us(self) -> Vec<(u64, u64)> {
        let silent = self.gaps_us.len() as u64;
        if 2 * silent <= self.count {
            self.gaps_us
        } else {
            Vec::new()
        }
    }
}

fn engine_of(header: &Header) -> Option<Address> {
    let link = header.link.as_ref()?;
    link.engine_controller.as_deref()?.parse().ok()
}

/// Request and response of a row.
fn bytes_of(row: &Row<'_>) -> Option<(Vec<u8>, Vec<u8>)> {
    Some((
        hex::decode(row.request).ok()?,
        hex::decode(row.response).ok()?,
    ))
}
