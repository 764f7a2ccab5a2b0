//! Writing a trace beside the conversation, which never waits for it and does not end with it.

use std::{
    fs::{File, OpenOptions},
    io::{self, Write},
    path::Path,
    sync::{
        Arc,
        mpsc::{self, Receiver, RecvTimeoutError, Sender},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use super::{
    TITLE,
    entry::{Entry, Event},
    error::TraceError,
};

/// Longest time that written lines wait before the disk is asked to keep them.
const SYNC_EVERY: Duration = Duration::from_millis(600);

/// A trace being written by a thread of its own. Clones write to the same file; dropping the last one writes what is left.
#[derive(Debug, Clone)]
pub struct Writer(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    lines: Option<Sender<String>>,
    thread: Option<JoinHandle<()>>,
}

impl Writer {
    /// Creates a new trace. `tell` is called, from another thread, when it cannot be written any more; what would come
    /// after that is left out.
    ///
    /// # Errors
    /// [`TraceError::Exists`] when there is a file of that name, which is left as it is.
    pub fn create(
        path: &Path,
        tell: impl FnOnce(io::Error) + Send + 'static,
    ) -> Result<Self, TraceError> {
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(path)
            .map_err(TraceError::creating)?;
        let begun = jiff::Timestamp::now();
        let version = env!("CARGO_PKG_VERSION");
        writeln!(file, "{TITLE}\n# begun {begun:.0} by pintle {version}")?;
        Ok(Self::start(file, tell)?)
    }

    fn start(file: File, tell: impl FnOnce(io::Error) + Send + 'static) -> io::Result<Self> {
        let (lines, written) = mpsc::channel();
        let work = move || {
            if let Err(error) = write_all(file, &written) {
                tell(error);
            }
        };
        let thread = thread::Builder::new()
            .name("trace write".to_owned())
            .spawn(work)?;
        Ok(Self(Arc::new(Shared {
            lines: Some(lines),
            thread: Some(thread),
        })))
    }

    /// Adds an event at `t_us`; the times of one trace must not go back.
    pub fn write(&self, t_us: u64, event: Event) {
        let line = format!("{}\n", Entry { t_us, event });
        if let Some(lines) = &self.0.lines {
            // nobody listens any more after a failure, which has been told
            let _ = lines.send(line);
        }
    }
}

impl Drop for Shared {
    fn drop(&mut self) {
        self.lines = None;
        if let Some(thread) = self.thread.take() {
            // A panic in the thread has been printed by it; dropping must not add another.
            let _ = thread.join();
        }
    }
}

fn write_all(mut file: File, lines: &Receiver<String>) -> io::Result<()> {
    let mut unkept: Option<Instant> = None;
    loop {
        let wait = unkept.map_or(SYNC_EVERY, |since| {
            SYNC_EVERY.saturating_sub(since.elapsed())
        });
        match lines.recv_timeout(wait) {
            Ok(line) => {
                file.write_all(line.as_bytes())?;
                unkept.get_or_insert_with(Instant::now);
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return file.sync_data(),
        }
        if unkept.is_some_and(|since| since.elapsed() >= SYNC_EVERY) {
            file.sync_data()?;
            unkept = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{super::reader::read, *};

    fn never(error: io::Error) {
        panic!("{error}");
    }

    #[test]
    fn what_was_written_reads_back_and_clones_write_to_the_same_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.trace");
        let writer = Writer::create(&path, never).unwrap();
        let events = [
            Event::Opened(Some(38_400)),
            Event::Out(b"ATZ\r".to_vec()),
            Event::In(vec![0, 0xFF, b' ', b'>']),
            Event::Lost("device disconnected".to_owned()),
        ];
        let clone = writer.clone();
        for (t_us, event) in (0..).zip(&events) {
            [&writer, &clone][t_us as usize % 2].write(t_us, event.clone());
        }
        drop((writer, clone));
        let entries = read(&path).unwrap();
        assert!(entries.iter().map(|entry| &entry.event).eq(&events));
        assert!(entries.iter().map(|entry| entry.t_us).eq(0..4));
    }

    #[test]
    fn an_existing_file_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.trace");
        std::fs::write(&path, "mine").unwrap();
        let refused = Writer::create(&path, never).unwrap_err();
        assert!(matches!(refused, TraceError::Exists));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "mine");
    }

    // /dev/full refuses every byte as a full disk does: full(4)
    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told_once_and_stops_nobody() {
        let file = OpenOptions::new().write(true).open("/dev/full").unwrap();
        let (told, heard) = mpsc::channel();
        let writer = Writer::start(file, move |error| told.send(error.kind()).unwrap()).unwrap();
        for t_us in 0..1000 {
            writer.write(t_us, Event::In(b"41".to_vec()));
        }
        drop(writer);
        let kinds: Vec<io::ErrorKind> = heard.iter().collect();
        assert_eq!(kinds, [io::ErrorKind::StorageFull]);
    }
}
