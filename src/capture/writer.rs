//! Writing a capture so that a pulled plug costs at most the last second.
//!
//! Rows are put into a buffer that two threads empty: one hands it to the operating system every [`WRITE_EVERY`], one
//! asks the disk to keep it every [`SYNC_EVERY`]. The caller, who talks to the car, waits for neither.

use std::{
    fs::{File, OpenOptions},
    io, mem,
    path::{Path, PathBuf},
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use super::{
    error::CaptureError,
    header::Header,
    row::Row,
    sink::Sink,
    whereabouts::{Fate, Whereabouts},
};
use crate::{
    durable::{NewFile, sync_folder_of},
    io_words,
};

/// Longest time a row waits for the operating system (the format allows 250 ms).
const WRITE_EVERY: Duration = Duration::from_millis(100);

/// Longest time written rows wait before the disk is asked to keep them (the format allows 1 s in all).
const SYNC_EVERY: Duration = Duration::from_millis(600);

/// Bytes in the buffer above which the caller waits: keeps memory flat when rows come faster than the disk takes them.
const MOST_WAITING: usize = 1 << 20;

/// A capture being written. Dropping it writes what is left; [`Writer::finish`] also returns whether that succeeded.
#[derive(Debug)]
pub struct Writer {
    shared: Arc<Shared>,
    threads: Vec<JoinHandle<()>>,
    last_us: u64,
    /// What happened to the file and was not yet handed on, in words.
    news: Option<String>,
}

/// Shows how the writing of a capture goes, on any thread and as long as it is of interest. Looking costs no system call.
#[derive(Debug, Clone)]
pub struct Gauge(Arc<Shared>);

impl Gauge {
    /// How it goes at this moment.
    pub fn read(&self) -> OnDisk {
        let state = self.0.lock();
        OnDisk {
            bytes: state.bytes,
            age: state.kept_at.elapsed(),
        }
    }
}

/// How much of a capture is in its file, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OnDisk {
    /// Length of the file, in bytes.
    pub bytes: u64,
    /// How long ago all that was in the file was safe on the disk: below a second while the disk is well, also when there
    /// is nothing new to keep.
    pub age: Duration,
}

#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug)]
struct State {
    waiting: Vec<u8>,
    /// Recorded time of the last row in `waiting`.
    waiting_us: u64,
    /// Something was written that the disk was not yet asked to keep.
    unsynced: bool,
    ending: bool,
    written_all: bool,
    /// Length of the file.
    bytes: u64,
    /// What was in the file then is on the disk.
    kept_at: Instant,
    failed: Option<io::Error>,
    /// Where the capture is.
    path: PathBuf,
    /// The file that the disk is asked to keep.
    file: Arc<File>,
    /// What happened to the file, in words, until the writer takes it.
    news: Option<String>,
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
        let whereabouts = Whereabouts::of(path)?;
        let writer = Self::begin(file, path, header, Some(whereabouts))?;
        sync_folder_of(path);
        Ok(writer)
    }

    /// Writes a capture that gets its name once it is whole: `NewFile::finish` comes after [`Writer::finish`].
    ///
    /// # Errors
    /// Whatever the operating system refuses.
    pub fn aside(new: &NewFile, header: &Header) -> Result<Self, CaptureError> {
        Self::begin(new.file().try_clone()?, new.path(), header, None)
    }

    /// Writes the header; the name decides whether the file is compressed. The file is watched if it has its name
    /// already.
    fn begin(
        file: File,
        name: &Path,
        header: &Header,
        whereabouts: Option<Whereabouts>,
    ) -> Result<Self, CaptureError> {
        let for_sync = Arc::new(file.try_clone()?);
        let compressed = name.extension().is_some_and(|extension| extension == "gz");
        let mut sink = Sink::new(file, compressed);
        sink.write(header.to_lines().as_bytes(), 0)?;

        let shared = Arc::new(Shared::begin(sink.bytes(), name, for_sync));
        let (one, two) = (Arc::clone(&shared), Arc::clone(&shared));
        let threads = vec![
            thread::Builder::new()
                .name("capture write".to_owned())
                .spawn(move || one.write_loop(sink, whereabouts))?,
            thread::Builder::new()
                .name("capture sync".to_owned())
                .spawn(move || two.sync_loop())?,
        ];
        Ok(Self {
            shared,
            threads,
            last_us: 0,
            news: None,
        })
    }

    /// Creates a new capture under the first of these names that is free.
    ///
    /// # Errors
    /// [`CaptureError::Exists`] when none of them is.
    pub fn create_first<'a>(
        names: &'a [PathBuf],
        header: &Header,
    ) -> Result<(&'a Path, Self), CaptureError> {
        for path in names {
            match Self::create(path, header) {
                Err(CaptureError::Exists) => {}
                created => return Ok((path, created?)),
            }
        }
        Err(CaptureError::Exists)
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
        self.news = self.news.take().or_else(|| state.news.take());
        Ok(())
    }

    /// What somebody did to the file meanwhile, and where the capture is now, in words; once.
    pub fn take_news(&mut self) -> Option<String> {
        self.news.take()
    }

    /// Shows from elsewhere how the writing goes.
    pub fn gauge(&self) -> Gauge {
        Gauge(Arc::clone(&self.shared))
    }

    /// Writes and syncs everything and closes the file. Gives where it is: under another name than it was created with when
    /// somebody deleted it meanwhile.
    ///
    /// # Errors
    /// What went wrong with any row so far.
    pub fn finish(mut self) -> Result<PathBuf, CaptureError> {
        self.end();
        let mut state = self.shared.lock();
        state.check()?;
        Ok(mem::take(&mut state.path))
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
    /// A file that has a header, which the disk was not yet asked to keep.
    fn begin(bytes: u64, path: &Path, file: Arc<File>) -> Self {
        Self {
            state: Mutex::new(State {
                waiting: Vec::new(),
                waiting_us: 0,
                unsynced: true,
                ending: false,
                written_all: false,
                bytes,
                kept_at: Instant::now(),
                failed: None,
                path: path.to_owned(),
                file,
                news: None,
            }),
            changed: Condvar::new(),
        }
    }

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

    fn write_loop(&self, mut sink: Sink, mut whereabouts: Option<Whereabouts>) {
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
            if let (Ok(()), Some(whereabouts)) = (&outcome, &mut whereabouts) {
                outcome = self.look_after(whereabouts, &mut sink);
            }
            let mut state = self.lock();
            state.unsynced |= !text.is_empty() || ending;
            state.bytes = sink.bytes();
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

    /// Goes on in a new file when somebody deleted the old one, and says so.
    fn look_after(&self, whereabouts: &mut Whereabouts, sink: &mut Sink) -> io::Result<()> {
        let was = whereabouts.path().display().to_string();
        let news = match whereabouts.fate() {
            Fate::InPlace => return Ok(()),
            Fate::Moved if whereabouts.note_moved() => {
                format!("{was} was moved or renamed; recording continues in the moved file")
            }
            Fate::Moved => return Ok(()),
            Fate::Deleted => {
                let new = whereabouts.write_anew().map_err(|error| {
                    let why = io_words::problem_of_new_file(&error);
                    io::Error::other(format!(
                        "it was deleted during recording and cannot be written again ({why})"
                    ))
                })?;
                let for_sync = new.try_clone()?;
                sink.go_on_in(new);
                let path = whereabouts.path().to_owned();
                let news = format!(
                    "{was} was deleted; everything is kept as {}",
                    path.display()
                );
                let mut state = self.lock();
                (state.path, state.file, state.unsynced) = (path, Arc::new(for_sync), true);
                news
            }
        };
        self.lock().news = Some(news);
        Ok(())
    }

    fn sync_loop(&self) {
        loop {
            let mut state = self.pause(SYNC_EVERY, |state| state.written_all);
            let done = state.written_all;
            let (needed, began) = (mem::take(&mut state.unsynced), Instant::now());
            let file = Arc::clone(&state.file);
            drop(state);
            let outcome = if needed { file.sync_data() } else { Ok(()) };
            let mut state = self.lock();
            match outcome {
                Ok(()) => state.kept_at = began,
                Err(error) => drop(state.failed.get_or_insert(error)),
            }
            drop(state);
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

    /// Writes rows until this file, deleted or moved meanwhile by `meddle`, is written anew or named in the news.
    #[cfg(unix)]
    fn meddled(name: &str, meddle: impl Fn(&Path)) -> (tempfile::TempDir, String, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name);
        let mut writer = Writer::create(&path, &Header::default()).unwrap();
        for t_us in 0..100 {
            writer.write(&Row::mark(t_us, "before")).unwrap();
        }
        meddle(&path);
        let mut t_us = 100;
        let news = loop {
            writer.write(&Row::mark(t_us, "after")).unwrap();
            t_us += 1;
            if let Some(news) = writer.take_news() {
                break news;
            }
            thread::yield_now();
        };
        let kept = writer.finish().unwrap();
        (folder, news, kept)
    }

    fn count(path: &Path) -> usize {
        let mut reader = Reader::open(path).unwrap();
        let mut rows = 0;
        while let Some(row) = reader.next_row().unwrap() {
            assert_eq!(row.response, if rows < 100 { "before" } else { "after" });
            rows += 1;
        }
        assert!(reader.damage().is_none());
        rows
    }

    #[cfg(unix)]
    #[test]
    fn a_capture_that_is_deleted_meanwhile_is_written_anew_with_all_that_was_in_it() {
        for name in ["a.capture.csv", "a.capture.csv.gz"] {
            let delete = |path: &Path| std::fs::remove_file(path).unwrap();
            let (folder, news, kept) = meddled(name, delete);
            let expected = folder.path().join(name.replacen("a.", "a-002.", 1));
            assert_eq!(kept, expected);
            assert!(
                news.contains("was deleted") && news.contains("a-002."),
                "{news}"
            );
            assert!(count(&kept) > 100);
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_capture_that_is_replaced_meanwhile_leaves_the_other_file_alone() {
        let (folder, _, kept) = meddled("a.capture.csv", |path| {
            std::fs::remove_file(path).unwrap();
            std::fs::write(path, "mine").unwrap();
        });
        assert!(count(&kept) > 100);
        let other = folder.path().join("a.capture.csv");
        assert_eq!(std::fs::read_to_string(other).unwrap(), "mine");
    }

    #[cfg(unix)]
    #[test]
    fn a_capture_that_is_moved_meanwhile_goes_on_where_it_is() {
        let (folder, news, _) = meddled("a.capture.csv", |path| {
            std::fs::rename(path, path.with_file_name("b.capture.csv")).unwrap();
        });
        assert!(news.contains("moved or renamed"), "{news}");
        assert!(count(&folder.path().join("b.capture.csv")) > 100);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
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
    fn the_gauge_shows_the_length_of_the_file() {
        for name in ["a.capture.csv", "a.capture.csv.gz"] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join(name);
            let length = || std::fs::metadata(&path).unwrap().len();
            let mut writer = Writer::create(&path, &Header::default()).unwrap();
            let gauge = writer.gauge();
            // a row after the end of a gzip member, and one after that
            for t_us in [1_000_000, 4_000_000, 5_000_000] {
                let before = gauge.read().bytes;
                writer.write(&Row::mark(t_us, "here")).unwrap();
                while gauge.read().bytes == before {
                    thread::yield_now();
                }
            }
            assert_eq!(gauge.read().bytes, length());
            writer.finish().unwrap();
            assert_eq!(gauge.read().bytes, length());
        }
    }

    #[test]
    fn what_was_written_is_soon_safe_and_stays_so_without_more() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.capture.csv");
        let writer = Writer::create(&path, &Header::default()).unwrap();
        let (gauge, began) = (writer.gauge(), Instant::now());
        for _ in 0..2 {
            // the disk is asked again and again: the age falls back each time
            let mut age = gauge.read().age;
            while gauge.read().age >= age {
                age = gauge.read().age;
            }
            assert!(gauge.read().age <= began.elapsed());
        }
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
