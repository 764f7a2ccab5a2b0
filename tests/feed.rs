//! A recording on a thread of its own: what a screen learns of it, and what it can say to it.

use std::{os::unix::fs::symlink, path::PathBuf, thread};

use pintle::{
    capture::Reader,
    clock::Clock,
    link::{
        Connected, Device, Ending, Expected, Feed, FeedConfig, FeedEvent, LinkError, LinkKind,
        OpenError, RecordError, Recorded, Target,
    },
};

use crate::{
    bay::{Bay, device},
    harness::Workbench,
    recording::{Line, lines},
};

/// An order that keeps nothing and goes on until it is told to stop.
fn watching(device: Device, clock: &Clock) -> FeedConfig {
    FeedConfig {
        pace: None,
        target: Target::Device(device),
        clock: clock.clone(),
        trace: None,
        names: Vec::new(),
        vehicle: None,
        expected: Expected::default(),
        length_us: None,
    }
}

/// Waits for news of which `take` makes something; whatever comes before is dropped.
fn wait_for<T>(feed: &Feed, mut take: impl FnMut(FeedEvent) -> Option<T>) -> T {
    loop {
        if let Some(found) = feed.events().find_map(&mut take) {
            return found;
        }
        thread::yield_now();
    }
}

fn connected(feed: &Feed) -> Connected {
    wait_for(feed, |events| match events {
        FeedEvent::Connected(connected) => Some(*connected),
        FeedEvent::Ended(ended) => panic!("{ended:?}"),
        _ => None,
    })
}

fn ended(feed: &Feed) -> Result<Recorded, RecordError> {
    wait_for(feed, |events| match events {
        FeedEvent::Ended(ended) => Some(ended),
        _ => None,
    })
}

#[test]
fn a_screen_that_looks_late_learns_everything_in_order() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::simulated("van3");
    let config = FeedConfig {
        names: vec![path.clone()],
        length_us: Some(60_000_000),
        ..watching(device(bay.path()), &bay.clock)
    };
    let feed = Feed::start(config).unwrap();
    // nobody looks until all is over
    let minute_over =
        || std::fs::read_to_string(&path).is_ok_and(|text| text.contains("recording ends"));
    while !minute_over() {
        thread::yield_now();
    }
    let mut stages = Vec::new();
    let mut rows = Vec::new();
    let mut bytes = None;
    let recorded = wait_for(&feed, |events| {
        match events {
            FeedEvent::Connecting(words) => stages.push(words),
            FeedEvent::Connected(connected) => {
                assert!(rows.is_empty());
                assert_eq!(connected.capture.as_ref(), Some(&path));
                let header = Reader::open(&path).unwrap().header().clone();
                assert_eq!(header.link, connected.header.link);
            }
            FeedEvent::Row(row) => {
                let row = row.as_row();
                rows.push(Line {
                    t_us: row.t_us,
                    kind: row.kind,
                    ecu: row.ecu.to_owned(),
                    request: row.request.to_owned(),
                    response: row.response.to_owned(),
                });
            }
            FeedEvent::Progress { progress, on_disk } => {
                assert_eq!(progress.trouble, None);
                bytes = on_disk.map(|on_disk| on_disk.bytes);
            }
            FeedEvent::Failed(error) => panic!("{error}"),
            FeedEvent::Kept(path) => assert!(path.ends_with("a.capture.csv"), "{}", path.display()),
            FeedEvent::Ended(ended) => return Some(ended),
        }
        None
    });
    assert_eq!(recorded.unwrap().ending, Ending::TimeOver);
    assert_eq!(rows, lines(&path));
    assert!(bytes.unwrap() > 0);
    let name = bay.path();
    assert_eq!(
        stages,
        [
            format!("{name}: looking for the adapter at 38400 baud"),
            format!("{name}: the adapter answers; looking for the car's bus"),
            format!("{name}: the car answers; asking what it supports"),
        ]
    );
}

#[test]
fn marks_and_the_stop_come_into_the_capture() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv.gz");
    let taken = bench.file("taken.capture.csv", "mine");
    let bay = Bay::real("van3");
    let config = FeedConfig {
        names: vec![taken, path.clone()],
        ..watching(device(bay.path()), &bay.clock)
    };
    let feed = Feed::start(config).unwrap();
    assert_eq!(connected(&feed).capture, Some(path.clone()));
    for words in ["A/C on", "A/C off"] {
        feed.handle().mark(words);
    }
    feed.handle().stop();
    assert_eq!(ended(&feed).unwrap().ending, Ending::Stopped);
    let lines = lines(&path);
    let position = |words: &str| lines.iter().position(|line| line.response == words);
    assert!(position("A/C on").unwrap() < position("A/C off").unwrap());
}

#[test]
fn without_a_name_it_only_watches() {
    let bay = Bay::simulated("van3");
    let config = FeedConfig {
        length_us: Some(10_000_000),
        ..watching(device(bay.path()), &bay.clock)
    };
    let feed = Feed::start(config).unwrap();
    assert_eq!(connected(&feed).capture, None);
    let recorded = wait_for(&feed, |events| match events {
        FeedEvent::Progress { on_disk, .. } => {
            assert_eq!(on_disk, None);
            None
        }
        FeedEvent::Ended(ended) => Some(ended),
        _ => None,
    });
    assert!(recorded.unwrap().answers > 50);
}

#[test]
fn a_screen_that_goes_away_leaves_a_complete_capture() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::real("van7");
    let config = FeedConfig {
        names: vec![path.clone()],
        ..watching(device(bay.path()), &bay.clock)
    };
    let feed = Feed::start(config).unwrap();
    wait_for(&feed, |events| match events {
        FeedEvent::Row(row) => (!row.as_row().request.is_empty()).then_some(()),
        _ => None,
    });
    drop(feed);
    // with its last mark
    lines(&path);
}

#[test]
fn a_stop_is_heard_while_nobody_answers_and_leaves_no_file() {
    let bench = Workbench::new();
    let silent = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = silent.local_addr().unwrap().to_string();
    let path = bench.path().join("a.capture.csv");
    let config = FeedConfig {
        names: vec![path.clone()],
        ..watching(Device::Network(address), &Clock::real())
    };
    let feed = Feed::start(config).unwrap();
    let words = wait_for(&feed, |events| match events {
        FeedEvent::Connecting(words) => Some(words),
        _ => None,
    });
    assert!(words.ends_with("looking for the adapter"), "{words}");
    feed.handle().mark("nothing to belong to");
    feed.handle().stop();
    let recorded = ended(&feed).unwrap();
    assert_eq!((recorded.ending, recorded.length_us), (Ending::Stopped, 0));
    assert!(!path.exists());
}

#[test]
fn an_adapter_that_is_plugged_in_later_is_found() {
    let bench = Workbench::new();
    let name = bench.path().join("adapter");
    let bay = Bay::simulated("van3");
    let config = watching(device(name.to_str().unwrap()), &bay.clock);
    let feed = Feed::start(config).unwrap();
    let error = wait_for(&feed, |events| match events {
        FeedEvent::Failed(error) => Some(error),
        _ => None,
    });
    assert_eq!(error, LinkError::Open(OpenError::Missing));
    assert!(
        error
            .next_step(LinkKind::Serial)
            .contains("plug the adapter in")
    );
    symlink(bay.path(), &name).unwrap();
    connected(&feed);
}

#[test]
fn what_no_waiting_can_mend_ends_at_once() {
    let bench = Workbench::new();
    let file = bench.file("no-device", "");
    let named = |path: &PathBuf| device(path.to_str().unwrap());
    let feed = Feed::start(watching(named(&file), &Clock::real())).unwrap();
    match ended(&feed) {
        Err(RecordError::Link(error)) => {
            assert_eq!(error, LinkError::Open(OpenError::NotSerial));
        }
        other => panic!("{other:?}"),
    }
    // no recording without the file that was asked for
    let bay = Bay::simulated("van3");
    let config = FeedConfig {
        names: vec![file],
        ..watching(device(bay.path()), &bay.clock)
    };
    let feed = Feed::start(config).unwrap();
    assert!(matches!(ended(&feed), Err(RecordError::Capture(_))));
}
