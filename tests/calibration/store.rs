//! Drawn cases on disk, below `target/`, so that a changed judgement is examined again in seconds.
//!
//! A file holds the cases of one cause and seed, one JSON line a case. It is named after what made it (simulator,
//! series, drawing of cases), so that cases are drawn anew when any of that changes.

use std::{
    fs,
    hash::{DefaultHasher, Hash, Hasher},
    io::Write,
    path::{Path, PathBuf},
    sync::LazyLock,
};

use pintle::cause::Cause;

pub use crate::parallel::in_parallel;

use crate::{
    case::{self, Case},
    occasion::Occasion,
};

/// The first `count` cases of a cause or pair, drawn where they are not on disk yet; and how many were drawn.
pub fn cases(occasion: Occasion, causes: &[Cause], count: usize, seed: u64) -> (Vec<Case>, usize) {
    let path = file(occasion, causes, seed);
    let text = fs::read_to_string(&path).unwrap_or_default();
    let read = |line| serde_json::from_str(line).unwrap();
    let mut cases: Vec<Case> = text.lines().take(count).map(read).collect();
    let missing = cases.len()..count;
    let drawn = in_parallel(missing.len(), |index| {
        case::draw(occasion, causes, (missing.start + index) as u64, seed)
    });
    if !drawn.is_empty() {
        let open = fs::OpenOptions::new().create(true).append(true).open(&path);
        let mut file = open.unwrap();
        for case in &drawn {
            writeln!(file, "{}", serde_json::to_string(case).unwrap()).unwrap();
        }
    }
    let new = drawn.len();
    cases.extend(drawn);
    (cases, new)
}

fn file(occasion: Occasion, causes: &[Cause], seed: u64) -> PathBuf {
    let names: Vec<&str> = causes.iter().map(|cause| cause.id()).collect();
    let name = format!("{}-{}-{seed}.jsonl", occasion.id(), names.join("-and-"));
    FOLDER.join(name)
}

/// The folder for cases drawn by what stands in the sources now.
static FOLDER: LazyLock<PathBuf> = LazyLock::new(|| {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut hasher = DefaultHasher::new();
    for folder in ["src/simulator", "src/series"] {
        hash_folder(&root.join(folder), &mut hasher);
    }
    for file in [
        "cars", "case", "dice", "drivers", "faults", "loggers", "occasion", "tank", "watch",
    ] {
        let path = root.join(format!("tests/calibration/{file}.rs"));
        fs::read(path).unwrap().hash(&mut hasher);
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("calibration");
    let folder = folder.join(format!("{:016x}", hasher.finish()));
    fs::create_dir_all(&folder).unwrap();
    folder
});

fn hash_folder(folder: &Path, hasher: &mut DefaultHasher) {
    let entries = fs::read_dir(folder).unwrap();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    for path in paths {
        if path.is_dir() {
            hash_folder(&path, hasher)
        } else {
            fs::read(&path).unwrap().hash(hasher)
        }
    }
}
