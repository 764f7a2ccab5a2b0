//! A capture as facts, in order: decoded on all cores, handed on by one.
//!
//! Workers take blocks of the file in turn, each turning its own into a [`Batch`]; the batches are handed on in the order
//! of the blocks. A block's first time is taken on trust; when it does not follow the one before, the block is decoded
//! again with the truth, so that the result never depends on where a block began or how many cores there are.

use std::{
    io,
    path::Path,
    sync::{
        Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, sync_channel},
    },
    thread,
};

use pintle_protocol::service::Answer;

use super::{
    batch::Batch,
    block::Blocks,
    damage::Damage,
    decode::{Content, Note},
    engine::EngineController,
    error::CaptureError,
    header::Header,
    reader::{Opened, open},
    row::Row,
    times::Times,
};
use crate::observation::Observation;

/// Most cores used: beyond this the order of handing on is the limit.
const MOST_WORKERS: usize = 4;

/// Something that a capture says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fact<'a> {
    /// A number of the engine controller, or of another logger.
    Reading(Observation),
    /// An answer of the engine controller that holds no number: codes, freeze frame, vehicle identification.
    Answer {
        /// When, µs.
        t_us: u64,
        /// What it says.
        answer: &'a Answer,
    },
    /// A remark.
    Mark {
        /// When, µs.
        t_us: u64,
        /// What.
        text: &'a str,
    },
    /// A state of the link.
    Link {
        /// When, µs.
        t_us: u64,
        /// What.
        text: &'a str,
    },
}

/// A capture, to be read as facts.
pub struct Observations {
    opened: Opened,
}

impl Observations {
    /// Opens a capture, plain or compressed, and reads its header.
    ///
    /// # Errors
    /// When there is no file, or it does not begin as a capture does.
    pub fn open(path: &Path) -> Result<Self, CaptureError> {
        Ok(Self {
            opened: open(path)?,
        })
    }

    /// Where the recording comes from.
    pub const fn header(&self) -> &Header {
        &self.opened.header
    }

    /// Hands every fact to `take`, in the order of the file, and tells what was damaged. Memory does not grow with the
    /// file.
    ///
    /// # Errors
    /// When the medium cannot be read any further; what came before has been handed on.
    pub fn for_each(self, mut take: impl FnMut(Fact<'_>)) -> Result<Damage, CaptureError> {
        let Opened {
            header,
            blocks,
            first_line,
            damage,
        } = self.opened;
        let mut delivery = Delivery {
            engine: EngineController::of(&header),
            times: Times::from_start(),
            line: first_line,
            damage,
        };
        let source = Source {
            blocks: Mutex::new(blocks),
            spare: Mutex::new(Vec::new()),
        };
        let workers = thread::available_parallelism()
            .map_or(1, usize::from)
            .min(MOST_WORKERS);
        let failed = thread::scope(|scope| {
            let (queue, tickets) = sync_channel(workers);
            for _ in 0..workers {
                let (source, queue) = (&source, queue.clone());
                scope.spawn(move || source.work(&queue));
            }
            drop(queue);
            deliver_all(&tickets, &source, &mut delivery, &mut take)
        });
        let blocks = source
            .blocks
            .into_inner()
            .unwrap_or_else(PoisonError::into_inner);
        let mut damage = delivery.damage;
        damage.torn_end = blocks.torn_end;
        damage.broken_compression = blocks.broken_compression;
        failed.map(|()| damage).map_err(CaptureError::from)
    }
}

/// Where the next batch will come from.
type Ticket = Receiver<io::Result<Batch>>;

fn deliver_all(
    tickets: &Receiver<Ticket>,
    source: &Source,
    delivery: &mut Delivery,
    take: &mut impl FnMut(Fact<'_>),
) -> io::Result<()> {
    for ticket in tickets {
        // A worker that went away without a word would have panicked; its block is passed over.
        if let Ok(batch) = ticket.recv() {
            let mut batch = batch?;
            delivery.deliver(&mut batch, take);
            source.give_back(batch);
        }
    }
    Ok(())
}

/// What the workers share.
struct Source {
    blocks: Mutex<Blocks>,
    /// Batches to be filled again.
    spare: Mutex<Vec<Batch>>,
}

impl Source {
    fn work(&self, queue: &SyncSender<Ticket>) {
        while let Some((mut batch, to)) = self.next_block(queue) {
            batch.decode(Times::from_anywhere());
            if to.send(Ok(batch)).is_err() {
                return;
            }
        }
    }

    /// Reads the next block and queues the ticket for it, both under one lock: tickets are in the order of blocks.
    fn next_block(
        &self,
        queue: &SyncSender<Ticket>,
    ) -> Option<(Batch, SyncSender<io::Result<Batch>>)> {
        let spare = self
            .spare
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .pop();
        let mut batch = spare.unwrap_or_else(Batch::new);
        let mut blocks = self.blocks.lock().unwrap_or_else(PoisonError::into_inner);
        let (to, ticket) = sync_channel(1);
        match blocks.next_block(&mut batch.text) {
            Ok(true) => queue.send(ticket).ok().map(|()| (batch, to)),
            Ok(false) => None,
            Err(error) => {
                // The one ticket's place is free, so this does not wait; nobody listening any more is fine too.
                let _ = to.send(Err(error));
                let _ = queue.send(ticket);
                None
            }
        }
    }

    fn give_back(&self, batch: Batch) {
        self.spare
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .push(batch);
    }
}

/// Hands batches on in their order.
struct Delivery {
    engine: EngineController,
    times: Times,
    line: u64,
    damage: Damage,
}

impl Delivery {
    fn deliver(&mut self, batch: &mut Batch, take: &mut impl FnMut(Fact<'_>)) {
        if batch
            .first_us
            .is_some_and(|first_us| !self.times.continues(first_us))
        {
            batch.decode(self.times);
        }
        if batch.first_us.is_some() {
            self.times = batch.times;
        }
        for (line, problem) in &batch.bad {
            self.damage.add(self.line + line, problem);
        }
        self.line += batch.lines;
        hand_on(batch, &mut self.engine, take);
    }
}

/// Hands on what a batch holds, as far as it is about the engine.
fn hand_on(batch: &Batch, engine: &mut EngineController, take: &mut impl FnMut(Fact<'_>)) {
    let mut from = 0;
    for (until, source, note) in &batch.notes {
        hand_on_readings(batch, from..*until, engine, take);
        from = *until;
        let address = batch
            .sources
            .get(usize::from(*source))
            .map_or(&[][..], Vec::as_slice);
        hand_on_note(note, engine.is_engine(address), take);
    }
    hand_on_readings(batch, from..batch.readings.len(), engine, take);
}

fn hand_on_readings(
    batch: &Batch,
    range: std::ops::Range<usize>,
    engine: &mut EngineController,
    take: &mut impl FnMut(Fact<'_>),
) {
    let address = |source: u8| {
        batch
            .sources
            .get(usize::from(source))
            .map_or(&[][..], Vec::as_slice)
    };
    let mut readings = batch.readings.get(range).unwrap_or_default().iter();
    while !engine.is_settled()
        && let Some(reading) = readings.next()
    {
        if engine.counts(address(reading.source), reading.item) {
            take(Fact::Reading(reading.observation()));
        }
    }
    let mut counts = [false; 256];
    for (counts, source) in counts.iter_mut().zip(&batch.sources) {
        *counts = engine.is_engine(source);
    }
    for reading in readings {
        if counts
            .get(usize::from(reading.source))
            .copied()
            .unwrap_or(false)
        {
            take(Fact::Reading(reading.observation()));
        }
    }
}

fn hand_on_note(note: &Note, of_engine: bool, take: &mut impl FnMut(Fact<'_>)) {
    let t_us = note.t_us;
    match &note.content {
        Content::Mark(text) => take(Fact::Mark { t_us, text }),
        Content::Link(text) => take(Fact::Link { t_us, text }),
        Content::Answer(answer) if of_engine => take(Fact::Answer { t_us, answer }),
        Content::Answer(_) => {}
    }
}

/// Turns rows into facts one by one, as they come from the car.
#[derive(Debug, Clone)]
pub struct Decoder {
    engine: EngineController,
    batch: Batch,
}

impl Decoder {
    /// A decoder for the capture with this header.
    pub fn new(header: &Header) -> Self {
        Self {
            engine: EngineController::of(header),
            batch: Batch::new(),
        }
    }

    /// Hands every fact of a row to `take`. Rows come in the order of their times.
    pub fn row(&mut self, row: &Row<'_>, mut take: impl FnMut(Fact<'_>)) {
        self.batch.clear();
        // From anywhere, every time is accepted.
        if self.batch.take_row(row).is_ok() {
            hand_on(&self.batch, &mut self.engine, &mut take);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fmt::Write;

    use pintle_protocol::{Item, Pid};

    use super::*;
    use crate::capture::Reader;

    fn file_of(text: &str) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        file
    }

    fn capture(rows: &str) -> String {
        format!("# capture 1\n# {{}}\nt_us,kind,ecu,request,response\n{rows}")
    }

    /// Facts and damage read on all cores in blocks.
    fn in_blocks(path: &Path) -> (Vec<String>, Damage) {
        let mut facts = Vec::new();
        let observations = Observations::open(path).unwrap();
        let damage = observations
            .for_each(|fact| facts.push(format!("{fact:?}")))
            .unwrap();
        (facts, damage)
    }

    /// The same read row by row, the slower and surer way.
    fn row_by_row(path: &Path) -> (Vec<String>, Damage) {
        let mut facts = Vec::new();
        let mut reader = Reader::open(path).unwrap();
        let mut decoder = Decoder::new(reader.header());
        while let Some(row) = reader.next_row().unwrap() {
            decoder.row(&row, |fact| facts.push(format!("{fact:?}")));
        }
        (facts, reader.damage().clone())
    }

    /// Several blocks of rows of two controllers, with remarks, codes, damage and times that go astray.
    fn long_and_damaged() -> String {
        let mut rows = String::new();
        for n in 0..40_000_u64 {
            let t_us = n * 20_000;
            match n % 1000 {
                17 => writeln!(rows, "{t_us},mark,,,\"two\nlines, {n}\""),
                18 => writeln!(rows, "{t_us},data,7E8,07,47010301"),
                19 => writeln!(rows, "{t_us},data,7E9,0106,410690"),
                20 => writeln!(rows, "{},data,7E8,0105,410540", t_us / 2),
                21 => writeln!(rows, "{},data,7E8,0105,410541", t_us + 900_000_000_000),
                22 => writeln!(rows, "garbage {n}"),
                23 => writeln!(rows, "{t_us},data,7E8,010C0607,410C0BB806800784"),
                24 => writeln!(rows, "{t_us},value,,010F,21.5"),
                25 => writeln!(rows, "{t_us},none,7E8,0162,NO DATA"),
                26 => writeln!(rows, "{t_us},mark,,,\"never closed"),
                27 => writeln!(rows, "{t_us},data,7E8,22F40CF406,62F40C0BB8F40680"),
                28 => writeln!(rows, "{t_us},data,7E8,22F6A2,62F6A20C240005000000FF"),
                29 => writeln!(rows, "{t_us},data,7E8,194233041E,594233FF1E0402030100AF"),
                _ if n % 3 == 0 => writeln!(rows, "{t_us},data,7E8,0106,4106{:02X}", n % 256),
                _ => writeln!(rows, "{t_us},data,7E9,010D,410D{:02X}", n % 200),
            }
            .unwrap();
        }
        capture(&rows)
    }

    #[test]
    fn blocks_on_all_cores_say_the_same_as_rows_one_by_one() {
        let file = file_of(&long_and_damaged());
        assert!(
            file.path().metadata().unwrap().len() > 4 * super::super::block::BLOCK_BYTES as u64
        );
        let (facts, damage) = in_blocks(file.path());
        let (expected, expected_damage) = row_by_row(file.path());
        assert!(expected.len() > 10_000);
        assert_eq!(facts.len(), expected.len());
        assert!(facts == expected);
        assert_eq!(damage, expected_damage);
    }

    /// The same car told by SAE J1979 and by ISO 14229 (SAE J1979-2), row by row.
    #[test]
    fn both_families_of_services_give_the_same_facts() {
        let older = "1,data,7E8,010C0607,410C0BB806800784\n2,data,7E8,06A2,46A20C2400050000FFFF\n\
            3,data,7E8,07,47010301\n4,data,7E8,0100,4100BE1FA813\n5,value,,0106,1.5\n6,data,7E8,0600,460080000001\n";
        let newer = "1,data,7E8,22F40CF406F407,62F40C0BB8F40680F40784\n2,data,7E8,22F6A2,62F6A20C2400050000FFFF\n\
            3,data,7E8,194233041E,594233FF1E0402030100AF\n4,data,7E8,22F400,62F400BE1FA813\n5,value,,22F406,1.5\n\
            6,data,7E8,22F600,62F60080000001\n";
        let facts = |rows| {
            let file = file_of(&capture(rows));
            let (facts, damage) = in_blocks(file.path());
            assert!(damage.is_none());
            assert_eq!((&facts, &damage), (&row_by_row(file.path()).0, &damage));
            facts
        };
        let (older, newer) = (facts(older), facts(newer));
        let readings = |facts: &[String]| -> Vec<String> {
            let readings = facts.iter().filter(|fact| fact.starts_with("Reading"));
            readings.cloned().collect()
        };
        assert_eq!(readings(&older).len(), 5, "{older:?}");
        assert_eq!(readings(&newer), readings(&older));
        assert_eq!(newer.len(), older.len());
        let codes = |facts: &[String]| facts.iter().filter(|fact| fact.contains("Pending")).count();
        assert_eq!((codes(&newer), codes(&older)), (1, 1));
    }

    #[test]
    fn a_pause_of_days_between_blocks_loses_no_more_than_between_rows() {
        let mut rows = String::new();
        for n in 0..30_000_u64 {
            let pause = if n < 15_000 { 0 } else { 3 * 86_400_000_000 };
            writeln!(rows, "{},data,7E8,0106,410680", n * 20_000 + pause).unwrap();
        }
        let file = file_of(&capture(&rows));
        assert!(in_blocks(file.path()) == row_by_row(file.path()));
        assert_eq!(in_blocks(file.path()).0.len(), 29_999);
    }

    #[test]
    fn only_the_engine_controller_and_other_loggers_count() {
        let rows = "1,data,7E9,010D,410D10\n2,data,7E8,0106,410680\n3,data,7E9,010D,410D20\n\
            4,data,7E8,010D,410D30\n5,value,,010D,64\n6,data,7E9,03,43010420\n7,data,7E8,03,43010171\n";
        let file = file_of(&capture(rows));
        let mut speeds = Vec::new();
        let mut answers = Vec::new();
        let observations = Observations::open(file.path()).unwrap();
        observations
            .for_each(|fact| match fact {
                Fact::Reading(reading) if reading.item == Item::current(Pid::VEHICLE_SPEED) => {
                    speeds.push(reading.value);
                }
                Fact::Answer { t_us, .. } => answers.push(t_us),
                _ => {}
            })
            .unwrap();
        // The first controller counts until another one answers a trim.
        assert_eq!(speeds, [16.0, 48.0, 64.0]);
        assert_eq!(answers, [7]);
    }
}
