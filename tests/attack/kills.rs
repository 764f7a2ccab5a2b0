//! Kills the program at random moments: while it records a car, while it writes a file.

mod recording;
mod writing;

use std::{collections::BTreeMap, fmt, fs, path::Path, sync::Mutex, thread, time::Instant};

use super::dice;

/// Recordings under way at once: they mostly wait for the line.
const RECORDINGS: u64 = 6;
/// Files being written at once.
const WRITINGS: u64 = 1;

/// What the kills have done.
#[derive(Debug, Default)]
pub struct Kills {
    /// Recordings killed.
    recordings: u64,
    /// Requests that were on the bus in them.
    requests: u64,
    /// Requests whose answer had come, and is not in the capture.
    lost: u64,
    /// Those of them that had come longer ago than the format allows.
    lost_for_good: u64,
    /// Commands killed while they wrote a file.
    writings: u64,
    /// Those that had put the file in its place.
    whole: u64,
    /// Files under their final names that are not whole.
    half: u64,
    /// What was wrong: how often, and the first time in words.
    problems: BTreeMap<String, (u64, String)>,
}

impl Kills {
    /// Whether nothing was lost.
    pub fn is_clean(&self) -> bool {
        self.problems.is_empty()
    }

    /// Something was wrong with what `what` says.
    fn problem(&mut self, what: &str, words: impl fmt::Display) {
        let first = || (0, words.to_string());
        self.problems.entry(what.to_owned()).or_insert_with(first).0 += 1;
    }

    /// Says what came of the kills.
    pub fn tell(&self) {
        println!(
            "kills while recording: {}, of {} requests {} not in the capture, {} of them older than {} ms",
            self.recordings,
            self.requests,
            self.lost,
            self.lost_for_good,
            recording::ALLOWED_US / 1000
        );
        println!(
            "kills while writing a file: {}, {} after it was in place, {} half files",
            self.writings, self.whole, self.half
        );
        for (what, (times, words)) in &self.problems {
            println!("    {times} times: {what}, first {words}");
        }
    }
}

/// Kills until time is over.
pub fn run(folder: &Path, seed: u64, until: Instant, kills: &Mutex<Kills>) {
    thread::scope(|scope| {
        for lane in 0..RECORDINGS {
            let folder = folder.join(format!("recording-{lane}"));
            scope.spawn(move || {
                each(&folder, until, |number, folder| {
                    let mut dice = dice::of_input(seed, "kills", number * RECORDINGS + lane);
                    recording::kill(folder, &mut dice, kills);
                });
            });
        }
        for lane in 0..WRITINGS {
            let folder = folder.join(format!("writing-{lane}"));
            scope.spawn(move || writing::kill_again_and_again(&folder, seed, until, kills));
        }
    });
}

/// Does something in an empty folder again and again.
fn each(folder: &Path, until: Instant, mut kill: impl FnMut(u64, &Path)) {
    let mut number = 0;
    while Instant::now() < until {
        fs::create_dir_all(folder).unwrap();
        kill(number, folder);
        fs::remove_dir_all(folder).unwrap();
        number += 1;
    }
}
