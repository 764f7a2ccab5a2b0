//! Recording from a virtual adapter: into a capture, through troubles of the link, to a clean end.

use std::{
    cell::{Cell, RefCell},
    future::{pending, poll_fn},
    os::unix::fs::symlink,
    path::Path,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
    task::Poll,
};

use pintle::{
    capture::{Kind, Reader, Writer},
    clock::Clock,
    link::{Device, Ending, Recorded, RecordingRequest, Session},
    simulator::{
        adapter::{Mishaps, Purpose, VirtualAdapter},
        car::{
            Car,
            fleet::{self, CarSpec},
            trip::Trip,
        },
    },
};
use pintle_protocol::bus::hex;

use crate::{
    bay::{BAUD, Bay, device, parked},
    harness::Workbench,
    plugged_in::PluggedIn,
};

/// What is said when the adapter is pulled out.
pub const LOST: &str =
    "lost: device disconnected; plug the adapter in again, and recording continues";

/// One row, as text.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub t_us: u64,
    pub kind: Kind,
    pub ecu: String,
    pub request: String,
    pub response: String,
}

/// The rows of a capture, which must be without damage and enclosed by its two marks.
pub fn lines(path: &Path) -> Vec<Line> {
    let mut reader = Reader::open(path).unwrap();
    let mut lines = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        lines.push(Line {
            t_us: row.t_us,
            kind: row.kind,
            ecu: row.ecu.to_owned(),
            request: row.request.to_owned(),
            response: row.response.to_owned(),
        });
    }
    assert!(reader.damage().is_none());
    let mark = |line: Option<&Line>| {
        let line = line.unwrap();
        assert_eq!(line.kind, Kind::Mark);
        line.response.clone()
    };
    assert_eq!(mark(lines.first()), "recording starts");
    assert_eq!(mark(lines.last()), "recording ends");
    lines
}

pub fn link_states(lines: &[Line]) -> Vec<&str> {
    let states = lines.iter().filter(|line| line.kind == Kind::Link);
    states.map(|line| line.response.as_str()).collect()
}

/// Records in this process for so many seconds; `watch` sees every link state.
async fn record(
    bay: &Bay,
    device_path: &str,
    capture: &Path,
    seconds: u64,
    mut watch: impl FnMut(&str),
) -> Recorded {
    let device = device(device_path);
    let mut session = Session::connect(device, bay.clock.clone()).await.unwrap();
    let mut writer = Writer::create(capture, &session.header(None)).unwrap();
    let recorded = session
        .record(
            Some(&mut writer),
            Some(seconds * 1_000_000),
            pending,
            |row, _| {
                if row.kind == Kind::Link {
                    watch(row.response);
                }
            },
        )
        .await;
    writer.finish().unwrap();
    recorded.unwrap()
}

/// Longest time between answers whose request holds the parameter, µs.
fn longest_gap_us(lines: &[Line], parameter: &str) -> u64 {
    let holds = |line: &&Line| {
        let pairs: Vec<&[u8]> = line.request.as_bytes().chunks(2).collect();
        line.kind == Kind::Data && pairs[0] == b"01" && pairs[1..].contains(&parameter.as_bytes())
    };
    let times: Vec<u64> = lines.iter().filter(holds).map(|line| line.t_us).collect();
    assert!(times.len() > 2, "{parameter}: {}", times.len());
    times.windows(2).map(|two| two[1] - two[0]).max().unwrap()
}

pub fn count(lines: &[Line], request: &str) -> usize {
    let answers = lines.iter().filter(|line| line.kind == Kind::Data);
    answers.filter(|line| line.request == request).count()
}

#[tokio::test]
async fn two_simulated_minutes_of_every_car_hold_what_the_judgement_needs() {
    for (car, cylinders) in [
        ("van3", 4),
        ("van7", 4),
        ("wagon2", 6),
        ("pickup1", 8),
        ("hatch5", 3),
    ] {
        let bench = Workbench::new();
        let path = bench.path().join("a.capture.csv");
        let bay = Bay::simulated(car);
        let recorded = record(&bay, bay.path(), &path, 120, |_| {}).await;
        assert_eq!(recorded.ending, Ending::TimeOver);
        assert!((120_000_000..121_000_000).contains(&recorded.length_us));
        let lines = lines(&path);
        assert!(lines.windows(2).all(|two| two[0].t_us <= two[1].t_us));
        // several a second for what is judged; believed for 10 s for what changes slowly
        for often in ["06", "0C", "04", "03"] {
            assert!(longest_gap_us(&lines, often) < 500_000, "{car} {often}");
        }
        assert!(longest_gap_us(&lines, "05") < 5_000_000, "{car}");
        // every 3 s for two minutes
        for cylinder in 1..=cylinders {
            let request = format!("06{:02X}", 0xA1 + cylinder);
            assert!(
                (38..=40).contains(&count(&lines, &request)),
                "{car} {request}"
            );
        }
        assert_eq!(count(&lines, "0902"), 1);
        assert!(count(&lines, "03") >= 2 && count(&lines, "07") >= 2);
        let reading =
            |line: &Line| ["01", "02", "03", "06", "07", "09", "0A"].contains(&&line.request[..2]);
        assert!(
            lines
                .iter()
                .filter(|line| line.kind == Kind::Data)
                .all(reading)
        );
        let header = Reader::open(&path).unwrap().header().clone();
        let link = header.link.unwrap();
        assert_eq!(link.baud, Some(38_400));
        let engine = link.engine_controller.unwrap();
        assert_eq!(
            lines
                .iter()
                .find(|line| line.request == "0902")
                .unwrap()
                .ecu,
            engine
        );
        assert_eq!(header.clock.as_deref(), Some("monotonic-us"));
    }
}

#[tokio::test]
async fn recording_goes_on_through_an_ignition_that_is_off_for_a_while() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::simulated("van3");
    bay.endpoint.ignition_off_at(Some(20_000_000));
    let recorded = record(&bay, bay.path(), &path, 120, |state| {
        if state.contains("stopped answering") {
            bay.endpoint.ignition_off_at(None);
        }
    })
    .await;
    assert_eq!(recorded.ending, Ending::TimeOver);
    let lines = lines(&path);
    let states = link_states(&lines);
    let [silent, restored] = states[..] else {
        panic!("{states:?}");
    };
    assert!(silent.contains("ignition"), "{silent}");
    assert_eq!(restored, "restored");
    // told within a few seconds
    let at = |words: &str| {
        lines
            .iter()
            .find(|line| line.response == words)
            .unwrap()
            .t_us
    };
    assert!(at(silent) < 30_000_000, "{}", at(silent));
    let silence = lines
        .iter()
        .position(|line| line.kind == Kind::None)
        .unwrap();
    assert_eq!(lines[silence].ecu, "");
    let after = lines[silence..]
        .iter()
        .filter(|line| line.kind == Kind::Data);
    assert!(after.count() > 500);
}

/// Records van 3 for a minute; after half of it the adapter is pulled out of the first name and put into the second, with
/// that car behind it.
async fn interrupted(bench: &Workbench, names: [&str; 2], car: &Car) -> Vec<Line> {
    let path = bench.path().join("a.capture.csv");
    let [before, after] = names.map(|name| bench.path().join(name));
    let bay = Bay::simulated("van3");
    symlink(bay.path(), &before).unwrap();
    bay.endpoint.unplug_at(30_000_000);
    let again = RefCell::new(None);
    let recorded = record(&bay, before.to_str().unwrap(), &path, 60, |state| {
        if state.starts_with("lost") {
            let bay = Bay::with(car.clone(), Mishaps::default(), bay.clock.clone());
            std::fs::remove_file(&before).unwrap();
            symlink(bay.path(), &after).unwrap();
            again.replace(Some(bay));
        }
    })
    .await;
    assert_eq!(recorded.ending, Ending::TimeOver);
    lines(&path)
}

#[tokio::test]
async fn an_adapter_that_comes_back_is_recorded_on() {
    let bench = Workbench::new();
    let lines = interrupted(&bench, ["adapter", "adapter"], &parked("van3")).await;
    assert_eq!(link_states(&lines), [LOST, "restored"]);
    let restored = lines
        .iter()
        .position(|line| line.response == "restored")
        .unwrap();
    assert!(
        lines[restored..]
            .iter()
            .filter(|line| line.kind == Kind::Data)
            .count()
            > 100
    );
    // the request that was cut off is told of
    assert!(
        lines
            .iter()
            .any(|line| line.kind == Kind::None && line.response == "link lost")
    );
}

#[tokio::test]
async fn an_adapter_that_comes_back_under_another_number_is_found() {
    let bench = Workbench::new();
    let lines = interrupted(&bench, ["adapter0", "adapter1"], &parked("van3")).await;
    let found = bench.path().join("adapter1");
    let found = format!("found again as {}", found.display());
    assert_eq!(link_states(&lines), [LOST, &found, "restored"]);
    let restored = lines.iter().position(|line| line.response == "restored");
    let after = &lines[restored.unwrap()..];
    assert!(after.iter().filter(|line| line.kind == Kind::Data).count() > 100);
}

#[tokio::test]
async fn another_car_is_not_recorded_into_the_same_capture() {
    let bench = Workbench::new();
    let lines = interrupted(&bench, ["adapter", "adapter"], &parked("wagon2")).await;
    let lost = lines.iter().position(|line| line.kind == Kind::Link);
    let after = &lines[lost.unwrap()..];
    assert_eq!(
        after.iter().filter(|line| line.kind == Kind::Data).count(),
        0
    );
    let states = link_states(&lines);
    assert_eq!(states.len(), 2, "{states:?}");
    assert!(states[1].contains("another car answers"), "{states:?}");
}

/// A car of the same kind, told from the first by its number alone.
#[tokio::test]
async fn a_twin_of_the_car_is_not_recorded_into_the_same_capture() {
    let bench = Workbench::new();
    let spec = CarSpec {
        vin: "000HRBRVAN3000004",
        ..*fleet::car("van3").unwrap()
    };
    let twin = Car::new(&spec, &[], Trip::warm(1), 1).unwrap();
    let lines = interrupted(&bench, ["adapter", "adapter"], &twin).await;
    let states = link_states(&lines);
    assert!(states[1].contains("another car answers"), "{states:?}");
    let last = lines.iter().rfind(|line| line.kind == Kind::Data).unwrap();
    assert!(last.t_us < 31_000_000, "{last:?}");
}

/// Hands a client's bytes to and from an address, one client after the other; each is cut off after so many bytes. Gives
/// where it listens, and how many clients have come.
fn relay(to: String, cut_after: usize) -> (String, Arc<AtomicUsize>) {
    use std::{
        io::{Read, Write},
        net::{Shutdown, TcpListener, TcpStream},
    };
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    let clients = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&clients);
    let carry = move |mut from: TcpStream, mut to: TcpStream, mut left: usize| {
        let mut buffer = [0; 64];
        while left > 0
            && let Ok(count @ 1..) = from.read(&mut buffer)
            && to.write_all(&buffer[..count]).is_ok()
        {
            left = left.saturating_sub(count);
        }
        let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
    };
    std::thread::spawn(move || {
        for client in listener.incoming() {
            let client = client.unwrap();
            count.fetch_add(1, Ordering::Relaxed);
            let adapter = TcpStream::connect(&to).unwrap();
            client.set_nodelay(true).unwrap();
            adapter.set_nodelay(true).unwrap();
            let (sender, receiver) = (client.try_clone().unwrap(), adapter.try_clone().unwrap());
            let there = std::thread::spawn(move || carry(sender, receiver, usize::MAX));
            carry(adapter, client, cut_after);
            there.join().unwrap();
        }
    });
    (address, clients)
}

/// Records van 3 over a network on which every connection breaks after so many bytes. Gives the rows, and how many
/// connections were made.
async fn over_a_bad_network(cut_after: usize, seconds: u64) -> (Vec<Line>, usize) {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let clock = Clock::simulated();
    let adapter = VirtualAdapter::new(parked("van3"), BAUD);
    let endpoint = PluggedIn::network(adapter, clock.clone());
    let (address, clients) = relay(endpoint.address().to_owned(), cut_after);
    let mut session = Session::connect(Device::Network(address), clock)
        .await
        .unwrap();
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let length_us = Some(seconds * 1_000_000);
    let recorded = session
        .record(Some(&mut writer), length_us, pending, |_, _| ())
        .await
        .unwrap();
    writer.finish().unwrap();
    assert_eq!(recorded.ending, Ending::TimeOver);
    (lines(&path), clients.load(Ordering::Relaxed))
}

#[tokio::test]
async fn a_network_connection_that_breaks_is_made_again() {
    let (lines, _) = over_a_bad_network(20_000, 30).await;
    let states = link_states(&lines);
    // 38 400 baud carry 3840 bytes a second: cut off about every eight seconds
    assert!(states.len() >= 4, "{states:?}");
    for pair in states.chunks(2) {
        // a cable is no help here
        assert!(pair[0].starts_with("lost: connection "), "{states:?}");
        assert!(
            pair[0].contains("Wi-Fi") && !pair[0].contains("plug"),
            "{states:?}"
        );
        assert!(pair.len() == 1 || pair[1] == "restored", "{states:?}");
    }
    assert!(longest_gap_us(&lines, "0C") < 5_000_000);
}

/// Set-up takes about 700 bytes: each connection ends a few answers later.
#[tokio::test]
async fn an_adapter_that_fails_again_and_again_is_tried_seldom_and_reported_of_with_a_count() {
    let (lines, connections) = over_a_bad_network(1_000, 600).await;
    // eight seconds apart, once that is settled
    assert!((50..=90).contains(&connections), "{connections}");
    let states = link_states(&lines);
    assert!(states.len() <= 16, "{states:?}");
    assert!(states[0].starts_with("lost: "), "{states:?}");
    let last = states.last().unwrap();
    let count = format!("lost again, {connections} times in 6");
    let before = format!("lost again, {} times in 6", connections - 1);
    assert!(
        last.starts_with(&count) || last.starts_with(&before),
        "{states:?}"
    );
    // what came in between is there
    let data = lines.iter().filter(|line| line.kind == Kind::Data);
    assert!(data.count() > 2 * connections);
}

#[tokio::test]
async fn an_adapter_that_stays_away_ends_the_recording_after_two_minutes() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::simulated("van7");
    bay.endpoint.unplug_at(30_000_000);
    let recorded = record(&bay, bay.path(), &path, 3600, |_| {}).await;
    assert_eq!(
        recorded.ending,
        Ending::Lost("device disconnected".to_owned())
    );
    assert!((140_000_000..160_000_000).contains(&recorded.length_us));
    assert_eq!(link_states(&lines(&path)), [LOST]);
}

#[tokio::test]
async fn a_wish_to_stop_lets_the_request_in_the_air_end() {
    // the wish comes at one moment and another between two answers
    for later in 1..=5 {
        let bench = Workbench::new();
        let path = bench.path().join("a.capture.csv.gz");
        let clock = Clock::simulated();
        let adapter = VirtualAdapter::new(parked("van3"), BAUD);
        let endpoint = PluggedIn::serial(adapter, clock.clone());
        let mut session = Session::connect(device(endpoint.address()), clock)
            .await
            .unwrap();
        let mut writer = Writer::create(&path, &session.header(None)).unwrap();
        let answers = Cell::new(0);
        let mut looks = 0;
        let wish = async || {
            poll_fn(|_| {
                looks += u32::from(answers.get() >= 100);
                if looks >= later {
                    Poll::Ready(RecordingRequest::Stop)
                } else {
                    Poll::Pending
                }
            })
            .await
        };
        let mut seen = 0;
        let recorded = session
            .record(Some(&mut writer), None, wish, |_, progress| {
                seen += 1;
                answers.set(progress.answers);
            })
            .await
            .unwrap();
        writer.finish().unwrap();
        assert_eq!(recorded.ending, Ending::Stopped);
        let lines = lines(&path);
        assert_eq!(lines.len(), seen);
        assert_eq!(recorded.answers, answers.get());
        // whatever the car was asked last has come into the capture
        let mut asked = endpoint.log.messages().into_iter();
        let last = asked.rfind(|sent| sent.purpose == Purpose::Request);
        let answered = lines.iter().rfind(|line| !line.request.is_empty());
        assert_eq!(answered.unwrap().request, hex::encode(&last.unwrap().data));
    }
}
