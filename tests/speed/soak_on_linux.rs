//! The soak itself: pseudo-terminals, process files and process numbers as Linux has them.

use std::time::{Duration, Instant};

use pintle::{
    capture::{Kind, Reader},
    clock::Clock,
    simulator::{
        adapter::{
            BusLog, Purpose, VirtualAdapter,
            endpoint::{Endpoint, open_pty},
        },
        car::{Car, fleet, trip::Trip},
    },
};
use pintle_protocol::bus::hex;

#[path = "../screen/terminal.rs"]
mod terminal;

use crate::harness::Workbench;
use terminal::Terminal;

/// Speed of the line, baud: the fastest that such adapters are set to.
const BAUD: u32 = 500_000;
/// Requests in an hour at the full rate of the usual line of 38 400 baud: answers a second times seconds.
const HOUR: usize = 34 * 3600;
/// Kernel's unit of processor time on Linux, 1/s (`sysconf(_SC_CLK_TCK)`).
const TICKS_PER_S: f64 = 100.0;
/// Size of a page, bytes, on the machines that this runs on.
const PAGE: f64 = 4096.0;

pub fn run() {
    let seconds = std::env::args().skip(1).find_map(|word| word.parse().ok());
    let seconds: u64 = seconds.unwrap_or(60);
    println!("watch, 100 x 30, recording; processor share of one core, resident memory");
    let mut real = Soak::begin(Clock::real());
    real.go_on(|soak, began| began.elapsed() >= Duration::from_secs(seconds) || soak.has_ended());
    real.tell(&format!("real time, {seconds} s at full rate"));
    let mut hour = Soak::begin(Clock::simulated());
    hour.go_on(|soak, _| asked(&soak.log).len() >= HOUR || soak.has_ended());
    hour.tell("an hour's requests, answered at once");
}

struct Soak {
    bench: Workbench,
    _endpoint: Endpoint,
    log: BusLog,
    terminal: Terminal,
    began: Instant,
    /// Processor time used when it began, s.
    used_s: f64,
    /// Resident memory every so often, MB.
    memory_mb: Vec<f64>,
}

impl Soak {
    fn begin(clock: Clock) -> Self {
        let bench = Workbench::new();
        let car = Car::new(fleet::car("wagon2").unwrap(), &[], Trip::warm(1), 1).unwrap();
        let adapter = VirtualAdapter::new(car, BAUD);
        let log = adapter.bus_log();
        let endpoint = open_pty(adapter, clock).unwrap();
        let baud = BAUD.to_string();
        let arguments = [
            "watch",
            "--port",
            endpoint.address(),
            "--baud",
            &baud,
            "--record",
            "a.capture.csv",
        ];
        let mut terminal = Terminal::start(&bench, (100, 30), &arguments);
        terminal.wait_for("bank 1");
        let used_s = processor_s(&terminal);
        Self {
            bench,
            _endpoint: endpoint,
            log,
            terminal,
            began: Instant::now(),
            used_s,
            memory_mb: Vec::new(),
        }
    }

    fn has_ended(&self) -> bool {
        !self.terminal.is_running()
    }

    fn go_on(&mut self, is_over: impl Fn(&Self, Instant) -> bool) {
        while !is_over(self, self.began) {
            self.terminal.look_for(Duration::from_secs(1));
            self.memory_mb.push(memory_mb(&self.terminal));
        }
    }

    fn tell(mut self, name: &str) {
        let passed_s = self.began.elapsed().as_secs_f64();
        let share = (processor_s(&self.terminal) - self.used_s) / passed_s;
        self.terminal.send("q");
        let ended = self.terminal.wait_for_end();
        let quarter = self.memory_mb[self.memory_mb.len() / 4];
        let last = self.memory_mb[self.memory_mb.len() - 1];
        let (asked, recorded) = (asked(&self.log), recorded(&self.bench));
        // what was asked before the recording began is not in it, and the last request may be cut off
        let missed = (0..=2).find_map(|cut| {
            let end = asked.len() - cut;
            let from = end.checked_sub(recorded.len())?;
            (asked[from..end] == recorded[..]).then_some(0)
        });
        println!(
            "{name}: {passed_s:.0} s, processor {:.1} %, memory {quarter:.1} MB after a quarter, {last:.1} MB at the end, \
             {} requests recorded of {} on the bus with connecting, missed: {}, ended {ended}",
            100.0 * share,
            recorded.len(),
            asked.len(),
            missed.map_or("some, the orders differ".to_owned(), |missed: u32| missed
                .to_string()),
        );
    }
}

/// Requests on the bus, in order.
fn asked(log: &BusLog) -> Vec<String> {
    let messages = log.messages();
    let requests = messages
        .iter()
        .filter(|sent| sent.purpose == Purpose::Request);
    requests.map(|sent| hex::encode(&sent.data)).collect()
}

/// Requests in the capture, in order; answers of several controllers to one stand one after the other.
fn recorded(bench: &Workbench) -> Vec<String> {
    let mut reader = Reader::open(&bench.path().join("a.capture.csv")).unwrap();
    let mut requests = Vec::new();
    let mut before = None;
    while let Some(row) = reader.next_row().unwrap() {
        if matches!(row.kind, Kind::Data | Kind::None) {
            let one = (row.t_us, row.request.to_owned());
            if before.as_ref() != Some(&one) {
                requests.push(one.1.clone());
            }
            before = Some(one);
        }
    }
    requests
}

fn processor_s(terminal: &Terminal) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{}/stat", terminal.number())).unwrap();
    // the name, in brackets, may hold blanks; utime and stime are fields 14 and 15 (proc(5))
    let fields: Vec<&str> = stat
        .rsplit(')')
        .next()
        .unwrap()
        .split_whitespace()
        .collect();
    let ticks: f64 = fields[11..13]
        .iter()
        .map(|ticks| ticks.parse::<f64>().unwrap())
        .sum();
    ticks / TICKS_PER_S
}

fn memory_mb(terminal: &Terminal) -> f64 {
    let pages = std::fs::read_to_string(format!("/proc/{}/statm", terminal.number()));
    let pages = pages.unwrap_or_default();
    let resident = pages
        .split_whitespace()
        .nth(1)
        .and_then(|pages| pages.parse::<f64>().ok());
    resident.unwrap_or(f64::NAN) * PAGE / 1e6
}
