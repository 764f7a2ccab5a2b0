//! How close a recording comes to what the serial line and the controllers allow, in real time.
//!
//! A virtual adapter paced by the clock of this machine stands behind a pseudo-terminal, and the program's own recording
//! asks it as it would ask a real one. The limit counts ten bits for each byte that went over the line, and for each
//! request the time that the simulated controllers take to begin the first answer: no byte of the reply can come earlier.
//! It allows nothing for the adapter and nothing for this program. Run it with `cargo bench --bench polling`.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout
)]

use std::future::pending;

use pintle::{
    capture::{Kind, Reader, Writer},
    clock::Clock,
    link::{Device, Session},
    simulator::{
        VirtualAdapter,
        car::Car,
        endpoint::{self, Endpoint},
        fleet,
        trip::Trip,
    },
};

/// How long each recording lasts, µs.
const LENGTH_US: u64 = 20_000_000;

fn main() {
    println!("car     baud     answers/s     limit  part of it   values/s   bytes/s");
    for car in ["van7", "van3", "wagon2"] {
        for baud in [38_400, 115_200] {
            measure(car, baud);
        }
    }
}

fn car(id: &str) -> Car {
    Car::new(fleet::car(id).unwrap(), &[], Trip::warm(1), 1).unwrap()
}

fn measure(id: &str, baud: u32) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.capture.csv");
    let clock = Clock::real();
    let (_endpoint, device) = plug_in(VirtualAdapter::new(car(id), baud), baud, &clock);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let (bytes, seconds) = runtime.block_on(async {
        let mut session = Session::connect(device, clock).await.unwrap();
        let mut writer = Writer::create(&path, &session.header(None)).unwrap();
        let before = session.bytes();
        let recorded = session
            .record(&mut writer, Some(LENGTH_US), pending(), |_, _| {})
            .await
            .unwrap();
        writer.finish().unwrap();
        (session.bytes() - before, recorded.length_us as f64 / 1e6)
    });
    let requests = requests(&path);
    let values: usize = requests.iter().map(Vec::len).sum::<usize>() - requests.len();
    let wire_s = bytes as f64 * 10.0 / f64::from(baud);
    let possible_s = wire_s + answer_time_s(id, &requests);
    let answers = requests.len() as f64;
    println!(
        "{id:7} {baud:6} {:13.1} {:9.1} {:9.1} % {:10.0} {:9.0}",
        answers / seconds,
        answers / possible_s,
        100.0 * possible_s / seconds,
        values as f64 / seconds,
        bytes as f64 / seconds,
    );
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

/// The requests that were answered; answers of several controllers to one request count once.
fn requests(path: &std::path::Path) -> Vec<Vec<u8>> {
    let mut reader = Reader::open(path).unwrap();
    let mut requests = Vec::new();
    let mut last = None;
    while let Some(row) = reader.next_row().unwrap() {
        if row.kind == Kind::Data && last != Some(row.t_us) {
            last = Some(row.t_us);
            requests.push(pintle_protocol::bus::hex::decode(row.request).unwrap());
        }
    }
    requests
}

/// What the controllers take to begin their first answer to each request, summed up, seconds. Another car of the same
/// make-up is asked the same.
fn answer_time_s(id: &str, requests: &[Vec<u8>]) -> f64 {
    let mut car = car(id);
    car.advance_to(10_000_000);
    let first_us = |request: &Vec<u8>| {
        let answers = car.answer(request);
        answers
            .iter()
            .map(|answer| answer.delay_us)
            .min()
            .unwrap_or(0)
    };
    requests.iter().map(first_us).sum::<u64>() as f64 / 1e6
}
