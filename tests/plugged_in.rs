//! Simulated cars that tests plug into. Whatever a test does with one, only requests to read may reach the car's bus: that
//! is looked after when the test has done with it.

use std::{ops::Deref, thread};

use pintle::{
    clock::Clock,
    simulator::adapter::{
        BusLog, Purpose, VirtualAdapter,
        endpoint::{self, Endpoint},
    },
};

/// Services that read (SAE J1979), and those of newer cars (ISO 14229: read by identifier, read trouble codes).
pub const READING: [u8; 9] = [0x01, 0x02, 0x03, 0x06, 0x07, 0x09, 0x0A, 0x22, 0x19];

/// An adapter with a simulated or a recorded car behind it.
pub struct PluggedIn {
    endpoint: Endpoint,
    /// What reaches the car.
    pub log: BusLog,
    may_clear: bool,
}

impl PluggedIn {
    /// On a pseudo-terminal, by this clock.
    #[cfg(unix)]
    pub fn serial(adapter: VirtualAdapter, clock: Clock) -> Self {
        let log = adapter.bus_log();
        Self::new(endpoint::open_pty(adapter, clock).unwrap(), log)
    }

    /// On a port of the network, by this clock.
    pub fn network(adapter: VirtualAdapter, clock: Clock) -> Self {
        let log = adapter.bus_log();
        Self::new(endpoint::open_tcp(adapter, clock).unwrap(), log)
    }

    fn new(endpoint: Endpoint, log: BusLog) -> Self {
        Self {
            endpoint,
            log,
            may_clear: false,
        }
    }

    /// For a test that clears codes, and says itself how often.
    pub fn may_clear(mut self) -> Self {
        self.may_clear = true;
        self
    }

    /// Services requested so far, in order.
    pub fn services(&self) -> Vec<u8> {
        services(&self.log)
    }

    /// Nothing but requests to read has reached the car so far, and some have.
    pub fn assert_only_reading(&self) {
        let services = self.services();
        assert!(services.len() > 5);
        assert_reading(&services);
    }
}

impl Deref for PluggedIn {
    type Target = Endpoint;

    fn deref(&self) -> &Endpoint {
        &self.endpoint
    }
}

impl Drop for PluggedIn {
    fn drop(&mut self) {
        // a second panic would hide the first
        if !self.may_clear && !thread::panicking() {
            assert_reading(&self.services());
        }
    }
}

/// Services requested, in order. What an adapter sends by itself is checked here: it wakes a bus, keeps it awake, and lets
/// long answers go on.
fn services(log: &BusLog) -> Vec<u8> {
    let mut services = Vec::new();
    for sent in log.messages() {
        match sent.purpose {
            Purpose::Request => services.push(sent.data[0]),
            // the address, or StartCommunication (ISO 14230-2)
            Purpose::Wake => assert!(sent.data == [0x33] || sent.data == [0x81], "{sent:?}"),
            // TesterPresent (ISO 14230-2), or a request to read
            Purpose::KeepAwake => assert!([0x3E, 0x01].contains(&sent.data[0]), "{sent:?}"),
            Purpose::FlowControl => assert_eq!(sent.data[0] >> 4, 3, "{sent:?}"),
        }
    }
    services
}

fn assert_reading(services: &[u8]) {
    for service in services {
        assert!(
            READING.contains(service),
            "service {service:02X} reached the car"
        );
    }
}

/// Nothing but requests to read went over the line that this trace was written of; for a car that another process serves.
pub fn assert_trace_only_reads(trace: &std::path::Path) {
    let entries = pintle::trace::parse(&std::fs::read(trace).unwrap()).unwrap();
    let said = entries.iter().map(ToString::to_string);
    let requests: Vec<String> = said
        .filter_map(|entry| {
            let (_, line) = entry.split_once(" out ")?;
            let line = line.strip_suffix("\\r")?.to_owned();
            (!line.is_empty() && !line.starts_with("AT")).then_some(line)
        })
        .collect();
    assert!(!requests.is_empty());
    for request in requests {
        let service = u8::from_str_radix(&request[..2], 16).unwrap();
        assert!(READING.contains(&service), "{request}");
    }
}

/// The watch itself: a car that is asked to clear is noticed.
#[test]
#[should_panic(expected = "service 04 reached the car")]
fn a_request_to_clear_does_not_pass_unnoticed() {
    use pintle::simulator::{car::Car, car::fleet, car::trip::Trip};
    use std::io::{Read, Write};

    let car = Car::new(fleet::car("van3").unwrap(), &[], Trip::warm(1), 1).unwrap();
    let plugged = PluggedIn::network(VirtualAdapter::new(car, 38_400), Clock::simulated());
    let mut line = std::net::TcpStream::connect(plugged.address()).unwrap();
    for text in ["0100\r", "04\r"] {
        line.write_all(text.as_bytes()).unwrap();
        let mut byte = [0];
        while byte != *b">" {
            line.read_exact(&mut byte).unwrap();
        }
    }
}
