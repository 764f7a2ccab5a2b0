//! How fast a long capture is read, decoded and averaged, and how much memory that takes.
//!
//! `cargo bench --bench decode [-- MEGABYTES [FILE]]` writes a capture of a made-up engine (200 MB unless told
//! otherwise; the same bytes every time), reads it back and prints megabytes per second. With a file name the capture is
//! kept there, so that other programs can be measured on it.
#![allow(
    missing_docs,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    clippy::print_stdout
)]

use std::{
    collections::BTreeMap,
    fs::File,
    io::{BufWriter, Write},
    path::{Path, PathBuf},
    time::Instant,
};

use pintle::{
    capture::{Fact, Header, Observations},
    series::Builder,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A quantity of the made-up engine: parameter, bytes, raw range.
const QUANTITIES: [(u8, usize, f64, f64); 10] = [
    (0x0C, 2, 2600.0, 16800.0),
    (0x0D, 1, 0.0, 130.0),
    (0x04, 1, 30.0, 242.0),
    (0x05, 1, 100.0, 144.0),
    (0x06, 1, 109.0, 147.0),
    (0x07, 1, 113.0, 143.0),
    (0x0B, 1, 25.0, 101.0),
    (0x0F, 1, 45.0, 100.0),
    (0x10, 2, 200.0, 11000.0),
    (0x11, 1, 25.0, 216.0),
];

const RUNS: usize = 5;

fn main() {
    // `cargo bench` adds an argument of its own.
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .collect();
    let megabytes: f64 = arguments
        .first()
        .map_or(200.0, |text| text.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = arguments
        .get(1)
        .map_or(folder.path().join("long.capture.csv"), PathBuf::from);
    write_capture(&path, (megabytes * 1e6) as u64);
    let size = path.metadata().unwrap().len() as f64 / 1e6;
    println!(
        "{size:.0} MB capture, {} cores",
        std::thread::available_parallelism().unwrap()
    );

    report("means by item", size, || means_by_item(&path));
    report("region means", size, || region_means(&path));
    if let Some(peak) = peak_memory_mb() {
        println!("peak memory {peak:.0} MB");
    }
}

/// Runs a job several times and prints the median.
fn report(name: &str, megabytes: f64, job: impl Fn() -> String) {
    let mut seconds = Vec::new();
    let mut check = String::new();
    for _ in 0..RUNS {
        let start = Instant::now();
        check = job();
        seconds.push(start.elapsed().as_secs_f64());
    }
    seconds.sort_by(f64::total_cmp);
    let median = seconds[RUNS / 2];
    println!(
        "{name}: median {median:.3} s of {RUNS}, fastest {:.3} s, {:.0} MB/s; {check}",
        seconds[0],
        megabytes / median
    );
}

/// Mean of every item of the engine controller.
fn means_by_item(path: &Path) -> String {
    let mut means = BTreeMap::new();
    let observations = Observations::open(path).unwrap();
    let damage = observations
        .for_each(|fact| {
            if let Fact::Reading(reading) = fact {
                let (count, sum) = means.entry(reading.item).or_insert((0_u64, 0.0));
                *count += 1;
                *sum += reading.value;
            }
        })
        .unwrap();
    assert!(damage.is_none());
    let readings: u64 = means.values().map(|(count, _)| count).sum();
    let check: f64 = means.values().map(|(count, sum)| sum / *count as f64).sum();
    format!("{readings} readings, sum of means {check:.3}")
}

/// Everything that a judgement needs, region means among it.
fn region_means(path: &Path) -> String {
    let mut builder = Builder::new();
    let observations = Observations::open(path).unwrap();
    let damage = observations
        .for_each(|fact| {
            if let Fact::Reading(reading) = fact {
                builder.push(reading);
            }
        })
        .unwrap();
    assert!(damage.is_none());
    let summary = builder.finish();
    format!(
        "{:.0} s, {} regions",
        summary.seconds.total,
        summary.trims.len()
    )
}

fn write_capture(path: &Path, size: u64) {
    let mut random = Pcg64Mcg::seed_from_u64(1);
    let mut out = BufWriter::with_capacity(1 << 20, File::create(path).unwrap());
    let header = Header::by_this_program().to_lines();
    out.write_all(header.as_bytes()).unwrap();
    let mut written = header.len() as u64;
    let mut values = QUANTITIES.map(|(_, _, low, high)| (low + high) / 2.0);
    let mut t_us = 0_u64;
    while written < size {
        for ((pid, bytes, low, high), value) in QUANTITIES.iter().zip(&mut values) {
            *value += (random.random::<f64>() - 0.5) * (high - low) * 0.06;
            *value = value.clamp(*low, *high);
            t_us += random.random_range(18_000..40_000);
            for (ecu, late_us, share) in [("7E8", 0, 1.0), ("7E9", 1100, 0.35)] {
                if random.random::<f64>() < share {
                    let t_us = t_us + late_us;
                    let raw = *value as u32;
                    let width = 2 * bytes;
                    let line = format!("{t_us},data,{ecu},01{pid:02X},41{pid:02X}{raw:0width$X}\n");
                    out.write_all(line.as_bytes()).unwrap();
                    written += line.len() as u64;
                }
            }
        }
    }
    out.flush().unwrap();
}

/// Most memory this process held so far, where the system tells.
fn peak_memory_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: f64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kilobytes / 1024.0)
}
