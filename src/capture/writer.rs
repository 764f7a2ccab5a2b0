//! Writing a capture so that a pulled plug costs at most the last second.
//!
//! Rows are put into a buffer that two threads empty: one hands it to the operating system every [`WRITE_EVERY`], one
//! asks the disk to keep it every [`SYNC_EVERY`]. The caller, who talks to the car, waits for neither.

use std::{
    fs::{File, OpenOptions},
    io, mem,
    path::Path,
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    thread::{self, JoinHandle},
    time::Duration,
};

use super::{error::CaptureError, header::Header, row::Row, sink::Sink};
use crate::durable::sync_folder_of;

/// Longest time a row waits for the operating system (the format allows 250 ms).
const WRITE_EVERY: Duration = Duration::from_millis(100);

/// Longest time written rows wait before the disk is asked to keep them (the format allows 1 s in all).
const SYNC_EVERY: Duration = Duration::from_millis(600);

/// Bytes in the buffer above which the caller waits: keeps memory flat when rows come faster than the disk takes them.
const MOST_WAITING: usize = 1 << 20;

/// A capture being written. Dropping it writes what is left; [`Writer::finish`] also tells whether that went well.
#[derive(Debug)]
pub struct Writer {
    shared: Arc<Shared>,
    threads: Vec<JoinHandle<()>>,
    last_us: u64,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    waiting: Vec<u8>,
    /// Recorded time of the last row in `waiting`.
    waiting_us: u64,
    /// Something was written that the disk was not yet asked to keep.
    unsynced: bool,
    ending: bool,
    written_all: bool,
    failed: Option<io::Error>,
}

impl Writer {
    /// Creates a new capture and writes its header; gzip-compressed if the name ends in `.gz`.
    ///
    /// # Errors
    /// [`CaptureError::Exists`] when there is a file of that name, which is left as it is.
    pub fn create(path: &Path, header: &Header) -> Result<Self, CaptureError> {
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
            .map_err(CaptureError::creating)?;
        let for_sync = file.try_clone()?;
        let compressed = path.extension().is_some_and(|extension| extension == "gz");
        let mut sink = Sink::new(file, compressed);
        sink.write(header.to_lines().as_bytes(), 0)?;
        sync_folder_of(path);

        let shared = Arc::new(Shared::default());
        shared.lock().unsynced = true;
        let (one, two) = (Arc::clone(&shared), Arc::clone(&shared));
        let threads = vec![
            thread::Builder::new()
                .name("capture write".to_owned())
                .spawn(move || one.write_loop(sink))?,
            thread::Builder::new()
                .name("capture sync".to_owned())
                .spawn(move || two.sync_loop(&for_sync))?,
        ];
        Ok(Self {
            shared,
            threads,
            last_us: 0,
        })
    }

    /// Adds a row. A time before that of the row before is raised to it.
    ///
    /// # Errors
    /// What went wrong with an earlier row: writing happens behind the caller's back.
    pub fn write(&mut self, row: &Row<'_>) -> Result<(), CaptureError> {
        self.last_us = self.last_us.max(row.t_us);
        let row = Row {
            t_us: self.last_us,
            ..*row
        };
        let mut state = self.shared.lock();
        while state.waiting.len() > MOST_WAITING && state.failed.is_none() {
            self.shared.changed.notify_all();
            state = self.shared.wait(state);
        }
        state.check()?;
        row.append_to(&mut state.waiting);
        state.waiting_us = self.last_us;
        Ok(())
    }

    /// Time of the last row, µs.
    pub const fn last_us(&self) -> u64 {
        self.last_us
    }

    /// Writes and syncs everything and closes the file.
    ///
    /// # Errors
    /// What went wrong with any row so far.
    pub fn finish(mut self) -> Result<(), CaptureError> {
        self.end();
        self.shared.lock().check()
    }

    fn end(&mut self) {
        self.shared.lock().ending = true;
        self.shared.changed.notify_all();
        for thread in self.threads.drain(..) {
            // A thread of ours does not panic; if it did, what it wrote is on disk all the same.
            let _ = thread.join();
        }
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        self.end();
    }
}

impl State {
    /// Gives the error of the background once, and a short one ever after.
    fn check(&mut self) -> Result<(), CaptureError> {
        match &mut self.failed {
            None => Ok(()),
            Some(error) => {
                let again = io::Error::new(error.kind(), error.to_string());
                Err(mem::replace(error, again).into())
            }
        }
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait<'a>(&self, state: MutexGuard<'a, State>) -> MutexGuard<'a, State> {
        self.changed
            .wait(state)
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for `longest`, for the end, or for a full buffer, whichever comes first.
    fn pause(
        &self,
        longest: Duration,
        cut_short: impl Fn(&State) -> bool,
    ) -> MutexGuard<'_, State> {
        let waiting = self.lock();
        self.changed
            .wait_timeout_while(waiting, longest, |state| !cut_short(state))
            .unwrap_or_else(PoisonError::into_inner)
            .0
    }

    fn write_loop(&self, mut sink: Sink) {
        loop {
            let mut state = self.pause(WRITE_EVERY, |state| {
                state.ending || state.waiting.len() > MOST_WAITING
            });
            let text = mem::take(&mut state.waiting);
            let (t_us, ending) = (state.waiting_us, state.ending);
            drop(state);
            let mut outcome = Ok(());
            if !text.is_empty() {
                outcome = sink.write(&text, t_us);
            }
            if ending {
                outcome = outcome.and_then(|()| sink.finish());
            }
            let mut state = self.lock();
            state.unsynced |= !text.is_empty() || ending;
            state.written_all = ending || outcome.is_err();
            if let Err(error) = outcome {
                state.failed.get_or_insert(error);
            }
            let done = state.written_all;
            drop(state);
            self.changed.notify_all();
            if done {
                return;
            }
        }
    }

    fn sync_loop(&self, file: &File) {
        loop {
            let mut state = self.pause(SYNC_EVERY, |state| state.written_all);
            let done = state.written_all;
            let needed = mem::take(&mut state.unsynced);
            drop(state);
            if needed && let Err(error) = file.sync_data() {
                self.lock().failed.get_or_insert(error);
            }
            if done {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::{Kind, Reader};

    #[test]
    fn an_existing_file_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.capture.csv");
        std::fs::write(&path, "mine").unwrap();
        let refused = Writer::create(&path, &Header::default()).unwrap_err();
        assert!(matches!(refused, CaptureError::Exists));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "mine");
    }

    #[test]
    fn time_never_goes_back_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.capture.csv");
        let mut writer = Writer::create(&path, &Header::default()).unwrap();
        for t_us in [5, 3, 9] {
            writer.write(&Row::mark(t_us, "x")).unwrap();
        }
        writer.finish().unwrap();
        let mut reader = Reader::open(&path).unwrap();
        let mut times = Vec::new();
        while let Some(row) = reader.next_row().unwrap() {
            times.push(row.t_us);
        }
        assert_eq!(times, [5, 5, 9]);
    }

    #[test]
    fn more_rows_than_the_buffer_holds_all_arrive_in_order() {
        for name in ["a.capture.csv", "a.capture.csv.gz"] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join(name);
            let mut writer = Writer::create(&path, &Header::default()).unwrap();
            for t_us in 0..100_000 {
                let row = Row {
                    t_us,
                    kind: Kind::Data,
                    ecu: "7E8",
                    request: "010C",
                    response: "410C0BB8",
                };
                writer.write(&row).unwrap();
            }
            writer.finish().unwrap();
            let mut reader = Reader::open(&path).unwrap();
            let mut next = 0;
            while let Some(row) = reader.next_row().unwrap() {
                assert_eq!(row.t_us, next);
                next += 1;
            }
            assert_eq!(next, 100_000);
            assert!(reader.damage().is_none());
        }
    }
}
