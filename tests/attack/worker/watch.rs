//! Ends a worker whose execution goes on and on.

use std::{
    fs,
    path::PathBuf,
    process::exit,
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicU64, Ordering},
    },
    thread,
    time::{Duration, Instant},
};

use rustix::time::{ClockId, clock_gettime};

/// Longest processor time of an execution: files are small, and the slowest sound one takes a hundredth of it.
const PROCESSOR: Duration = Duration::from_secs(20);
/// Longest time of an execution that waits for something; a recording in simulated time waits for silent adapters.
const WAITING: Duration = Duration::from_secs(300);
/// Time between two looks.
const LOOK: Duration = Duration::from_millis(200);

/// Exit code of a worker that hung.
pub const HUNG: i32 = 3;

static EXECUTIONS: AtomicU64 = AtomicU64::new(0);
static NOW: Mutex<&str> = Mutex::new("");

/// Another execution begins, of a command or of code of a target.
pub fn execute(what: &'static str) {
    *NOW.lock().unwrap_or_else(PoisonError::into_inner) = what;
    EXECUTIONS.fetch_add(1, Ordering::Relaxed);
}

/// What is being executed.
pub fn now() -> &'static str {
    *NOW.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Executions so far.
pub fn executions() -> u64 {
    EXECUTIONS.load(Ordering::Relaxed)
}

/// Watches from now on; of what hangs it writes the name to this file.
pub fn begin(file: PathBuf) {
    thread::spawn(move || {
        let mut last = (executions(), processor(), Instant::now());
        loop {
            thread::sleep(LOOK);
            let this = (executions(), processor(), Instant::now());
            if this.0 != last.0 {
                last = this;
            }
            if this.1 - last.1 > PROCESSOR || this.2 - last.2 > WAITING {
                // without a name it hung all the same
                let _ = fs::write(&file, now());
                exit(HUNG);
            }
        }
    });
}

/// Processor time of this process.
fn processor() -> Duration {
    let time = clock_gettime(ClockId::ProcessCPUTime);
    Duration::new(time.tv_sec as u64, time.tv_nsec as u32)
}
