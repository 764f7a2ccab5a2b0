//! Round trips through a real pseudo-terminal and a real TCP port.

use std::{
    io::{Read, Write},
    net::TcpStream,
};

use super::*;
use crate::{
    clock::Clock,
    simulator::{
        adapter::VirtualAdapter,
        car::{Car, fleet, trip::Trip},
    },
};

fn adapter(trip: Trip) -> VirtualAdapter {
    let car = Car::new(fleet::car("van3").unwrap(), &[], trip, 1).unwrap();
    VirtualAdapter::new(car, 115_200)
}

fn ask(device: &mut (impl Read + Write), text: &str) -> String {
    device.write_all(format!("{text}\r").as_bytes()).unwrap();
    let mut answer = Vec::new();
    let mut byte = [0];
    while byte != [b'>'] {
        assert_eq!(device.read(&mut byte).unwrap(), 1);
        answer.push(byte[0]);
    }
    String::from_utf8(answer).unwrap()
}

#[cfg(unix)]
fn open(path: &str) -> std::fs::File {
    let mut options = std::fs::OpenOptions::new();
    options.read(true).write(true).open(path).unwrap()
}

#[cfg(unix)]
#[test]
fn a_pseudo_terminal_answers_like_a_serial_device() {
    let endpoint = open_pty(adapter(Trip::parked(1)), Clock::real()).unwrap();
    let mut device = open(endpoint.address());
    assert_eq!(ask(&mut device, "ATE0"), "ATE0\rOK\r\r>");
    assert_eq!(ask(&mut device, "ATRV"), "12.3V\r\r>");
    drop(device);
    let mut again = open(endpoint.address());
    assert_eq!(ask(&mut again, "ATI"), "HARBOUR ADAPTER V3.2\r\r>");
}

#[cfg(unix)]
#[test]
fn simulated_time_moves_by_what_bytes_and_controllers_take() {
    let clock = Clock::simulated();
    let endpoint = open_pty(adapter(Trip::parked(1)), clock.clone()).unwrap();
    let mut device = open(endpoint.address());
    ask(&mut device, "ATE0");
    ask(&mut device, "0100");
    let before_us = clock.now_us();
    let answer = ask(&mut device, "01511");
    let took_us = clock.now_us() - before_us;
    // 10 bits a byte at 115 200 baud, and at most 50 ms for the controller (ISO 15765-4).
    let wire_us = (6 + answer.len()) as u64 * 86;
    assert!((wire_us..wire_us + 50_000).contains(&took_us), "{took_us}");
}

#[cfg(unix)]
#[test]
fn an_unplugged_device_ends_the_line_and_ignition_off_silences_the_car() {
    let clock = Clock::simulated();
    let endpoint = open_pty(adapter(Trip::parked(1)), clock.clone()).unwrap();
    let mut device = open(endpoint.address());
    ask(&mut device, "ATE0");
    endpoint.ignition_off_at(Some(0));
    assert!(ask(&mut device, "0100").contains("UNABLE TO CONNECT"));
    endpoint.ignition_off_at(None);
    assert!(ask(&mut device, "0100").contains("41 00"));
    endpoint.unplug_at(clock.now_us());
    let mut byte = [0];
    let ended = device.read(&mut byte);
    assert!(matches!(ended, Ok(0) | Err(_)), "{ended:?}");
}

#[test]
fn a_tcp_port_answers_one_client_after_the_other() {
    let endpoint = open_tcp(adapter(Trip::parked(1)), Clock::simulated()).unwrap();
    for expected in ["ATE0\rOK\r\r>", "OK\r\r>"] {
        let mut stream = TcpStream::connect(endpoint.address()).unwrap();
        assert_eq!(ask(&mut stream, "ATE0"), expected);
    }
}
