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

use super::{
    batch::Batch,
    block::Blocks,
    damage::Damage,
    engine::EngineController,
    error::CaptureError,
    fact::{Fact, hand_on},
    header::Header,
    reader::{Opened, open},
    times::Times,
};

/// Largest number of cores used: beyond this, handing on in order is the limit.
const MOST_WORKERS: usize = 4;

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

    /// Hands every fact to `take`, in the order of the file, and returns the damage found. Memory does not grow with
    /// the file.
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

#[cfg(test)]
mod tests;
