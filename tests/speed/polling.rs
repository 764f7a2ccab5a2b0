//! How close a recording comes to what line, bus and controllers allow, by protocol and by speed of the line.
//!
//! The limit is the time that the same answered requests take when they follow each other without a pause, each with the
//! right number of lines to expect: bytes on the line, time on the bus, the controllers' answer times, and what the
//! adapter itself needs. Two recordings are held against it. In simulated time everything but the choice of requests is
//! free: what is missing was asked in vain or waited for without need. In real time, over a pseudo-terminal, the program's
//! own time comes on top; how late this machine let the virtual adapter be is taken off and shown.
//!
//! `cargo bench --bench polling -- 20` records for 20 s each. Other work on the machine disturbs; where it is allowed,
//! `chrt -f 20` in front keeps it away.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout
)]

use std::{collections::HashMap, future::pending, path::Path};

use pintle::{
    capture::{Kind, Reader, Writer},
    clock::Clock,
    link::{Device, Session},
    simulator::{
        adapter::{
            VirtualAdapter,
            endpoint::{self, Endpoint},
        },
        bus::Bus,
        car::{Car, fleet, trip::Trip},
    },
};
use pintle_protocol::{bus::hex, service::current_data};

const BUSES: [(Bus, &str); 7] = [
    (Bus::Can11At500, "CAN 11/500"),
    (Bus::Can29At500, "CAN 29/500"),
    (Bus::Can11At250, "CAN 11/250"),
    (Bus::Iso9141, "ISO 9141-2"),
    (Bus::Iso14230Fast, "ISO 14230-4"),
    (Bus::J1850Vpw, "J1850 VPW"),
    (Bus::J1850Pwm, "J1850 PWM"),
];
const BAUDS: [u32; 3] = [38_400, 115_200, 500_000];

/// How long is recorded in simulated time, µs.
const SIMULATED_US: u64 = 120_000_000;

fn main() {
    let arguments = std::env::args().skip(1);
    let seconds = arguments.filter_map(|word| word.parse::<u64>().ok()).next();
    let real_us = seconds.unwrap_or(10) * 1_000_000;
    println!("                     simulated time        real time");
    println!(
        "bus            baud  answers/s  of limit   answers/s  items/s  of limit  adapter late  processor"
    );
    for (bus, name) in BUSES {
        for baud in BAUDS {
            let case = Case { bus, baud };
            let simulated = case.measure(&Clock::simulated(), SIMULATED_US);
            let real = case.measure(&Clock::real(), real_us);
            println!(
                "{name:12} {baud:6} {:10.1} {:7.1} % {:11.1} {:8.0} {:7.1} % {:9.0} us {}",
                simulated.answers / simulated.seconds,
                100.0 * simulated.limit_s / simulated.seconds,
                real.answers / real.seconds,
                real.items / real.seconds,
                100.0 * real.limit_s / (real.seconds - real.late_s),
                real.late_s * 1e6 / real.answers,
                match real.processor_s {
                    Some(used_s) => format!("{:8.1} %", 100.0 * used_s / real.seconds),
                    None => "  not known".to_owned(),
                }
            );
        }
    }
}

/// What is measured.
#[derive(Clone, Copy)]
struct Case {
    bus: Bus,
    baud: u32,
}

/// What came of it.
struct Measured {
    seconds: f64,
    answers: f64,
    items: f64,
    /// How long the same answers take at least.
    limit_s: f64,
    /// How late the virtual adapter was.
    late_s: f64,
    /// Processor time of the program, all threads but the virtual adapter's.
    processor_s: Option<f64>,
}

impl Case {
    fn adapter(self) -> VirtualAdapter {
        let car = Car::new(fleet::car("van3").unwrap(), &[], Trip::warm(1), 1).unwrap();
        VirtualAdapter::new(car.on_bus(self.bus), self.baud)
    }

    fn measure(self, clock: &Clock, length_us: u64) -> Measured {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.capture.csv");
        let (endpoint, device) = plug_in(self.adapter(), self.baud, clock);
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        let (seconds, late_us, processor_s) = runtime.block_on(async {
            let mut session = Session::connect(device, clock.clone()).await.unwrap();
            let mut writer = Writer::create(&path, &session.header(None)).unwrap();
            let (late_us, used_s) = (endpoint.late_us(), processor_s());
            let recorded = session
                .record(Some(&mut writer), Some(length_us), pending, |_, _| {})
                .await
                .unwrap();
            let used_s = processor_s().zip(used_s).map(|(now, before)| now - before);
            writer.finish().unwrap();
            (
                recorded.length_us as f64 / 1e6,
                endpoint.late_us() - late_us,
                used_s,
            )
        });
        let answered = answered(&path);
        Measured {
            seconds,
            answers: answered.len() as f64,
            items: answered.iter().map(|answer| answer.items as f64).sum(),
            limit_s: self.limit_us(&answered) / 1e6,
            late_s: late_us as f64 / 1e6,
            processor_s,
        }
    }

    /// The shortest time in which these requests can be answered one after the other, µs.
    fn limit_us(self, answered: &[Answered]) -> f64 {
        let (mut adapter, mut lines) = (Hurried::new(self), HashMap::new());
        let mut other = Hurried::new(self);
        let mut sum_us = 0;
        for Answered { request, .. } in answered {
            let count = *lines
                .entry(request)
                .or_insert_with(|| other.exchange(request).1);
            let began_us = adapter.now_us;
            adapter.exchange(&format!("{request}{count:X}"));
            sum_us += adapter.now_us - began_us;
        }
        sum_us as f64
    }
}

/// An adapter that is asked without a pause, in simulated time.
struct Hurried {
    adapter: VirtualAdapter,
    now_us: u64,
}

impl Hurried {
    /// With the usual settings, on a bus that is found and awake.
    fn new(case: Case) -> Self {
        let mut hurried = Self {
            adapter: case.adapter(),
            now_us: 0,
        };
        for line in ["ATE0", "ATS0", "ATH1", "0100", "0100"] {
            hurried.exchange(line);
        }
        hurried
    }

    /// Says a line; gives what comes back and how many lines of data that is.
    fn exchange(&mut self, line: &str) -> (String, usize) {
        let mut at_us = self.now_us as f64;
        for byte in line.bytes().chain([b'\r']) {
            at_us += self.adapter.byte_us();
            self.adapter.receive(byte, at_us as u64);
        }
        self.now_us = self.adapter.settled_us().unwrap();
        let reply = String::from_utf8(self.adapter.take_due(self.now_us)).unwrap();
        let data = |line: &&str| line.len() > 6 && line.bytes().all(|b| b.is_ascii_hexdigit());
        let count = reply.split('\r').filter(data).count();
        (reply, count)
    }
}

/// Opens the adapter where this system's programs look for one.
#[cfg(unix)]
fn plug_in(adapter: VirtualAdapter, baud: u32, clock: &Clock) -> (Endpoint, Device) {
    let endpoint = endpoint::open_pty(adapter, clock.clone()).unwrap();
    let path = endpoint.address().to_owned();
    let baud = Some(baud);
    (endpoint, Device::Serial { path, baud })
}

/// Opens the adapter where this system's programs look for one.
#[cfg(not(unix))]
fn plug_in(adapter: VirtualAdapter, _baud: u32, clock: &Clock) -> (Endpoint, Device) {
    let endpoint = endpoint::open_tcp(adapter, clock.clone()).unwrap();
    let device = Device::Network(endpoint.address().to_owned());
    (endpoint, device)
}

/// An answered request.
struct Answered {
    request: String,
    /// How many items the engine controller's answer brings.
    items: usize,
}

/// The requests that were answered; answers of several controllers to one request count once.
fn answered(path: &Path) -> Vec<Answered> {
    let mut reader = Reader::open(path).unwrap();
    let mut answered: Vec<Answered> = Vec::new();
    let mut last = None;
    while let Some(row) = reader.next_row().unwrap() {
        if row.kind != Kind::Data {
            continue;
        }
        let (request, response) = (
            hex::decode(row.request).unwrap(),
            hex::decode(row.response).unwrap(),
        );
        let mut items = 0;
        let joined = current_data::for_each_parameter(&request, &response, |_, _| items += 1);
        if joined.is_err() {
            items = 1;
        }
        if last == Some(row.t_us) {
            let answer = answered.last_mut().unwrap();
            answer.items = answer.items.max(items);
            continue;
        }
        last = Some(row.t_us);
        answered.push(Answered {
            request: row.request.to_owned(),
            items,
        });
    }
    answered
}

/// Processor time that all threads of this process but the virtual adapter's have used, where the system tells it.
fn processor_s() -> Option<f64> {
    let mut sum_ns = 0.0;
    for task in std::fs::read_dir("/proc/self/task").ok()? {
        let task = task.ok()?.path();
        let name = std::fs::read_to_string(task.join("comm")).ok()?;
        if name.trim() != "virtual adapter" {
            let used = std::fs::read_to_string(task.join("schedstat")).ok()?;
            sum_ns += used.split(' ').next()?.parse::<f64>().ok()?;
        }
    }
    Some(sum_ns / 1e9)
}
