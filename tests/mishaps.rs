//! Recordings through unreliable adapters: they go on by themselves, lose nothing that was there, and let nothing wrong in.

use std::{collections::VecDeque, future::pending, path::Path};

use pintle::{
    capture::{Decoder, Fact, Header, Kind, Reader, Row, Writer, numbers},
    clock::Clock,
    link::{Ending, Session},
    series::{Builder, summary::Summary},
    simulator::{
        adapter::{Mishap, Mishaps},
        car::Car,
    },
};
use pintle_protocol::{Item, bus::hex};

use crate::{
    bay::{Bay, device, parked},
    harness::Workbench,
};

/// Length of a recording and the part of it in which the adapter misbehaves, µs.
const LENGTH_US: u64 = 26_000_000;
const FROM_US: u64 = 8_000_000;
const UNTIL_US: u64 = 14_000_000;

/// One row, as text, with its time counted from the start of the trip.
#[derive(Debug)]
struct Line {
    t_us: u64,
    kind: Kind,
    ecu: String,
    request: String,
    response: String,
}

/// What a car would have answered at any moment of a trip: the same car once more, driven after the recording.
struct Witness {
    /// The car at each of its last steps.
    seen: VecDeque<Car>,
    now_us: u64,
}

impl Witness {
    const STEP_US: u64 = 20_000;
    /// No answer is older than this when it arrives.
    const OLDEST_US: u64 = 400_000;

    fn new(car: Car) -> Self {
        Self {
            seen: VecDeque::from([car]),
            now_us: 0,
        }
    }

    /// Whether a controller said this within the last moments before `t_us`.
    fn confirms(&mut self, line: &Line) -> bool {
        while self.now_us + Self::STEP_US <= line.t_us {
            self.now_us += Self::STEP_US;
            let mut car = self.seen.back().unwrap().clone();
            car.advance_to(self.now_us);
            self.seen.push_back(car);
            if self.seen.len() as u64 > Self::OLDEST_US / Self::STEP_US {
                self.seen.pop_front();
            }
        }
        let request = hex::decode(&line.request).unwrap();
        self.seen.iter_mut().rev().any(|car| {
            car.answer(&request).iter().any(|answer| {
                hex::encode(&answer.payload) == line.response
                    && (line.ecu.is_empty() || line.ecu == answer.address.to_string())
            })
        })
    }
}

/// Records the car behind such an adapter in simulated time.
async fn record(car: &str, mishaps: Mishaps) -> Vec<Line> {
    record_for(LENGTH_US, car, mishaps).await
}

async fn record_for(length_us: u64, car: &str, mishaps: Mishaps) -> Vec<Line> {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::with(parked(car), mishaps, Clock::simulated());
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let began_us = bay.clock.now_us();
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let mut told = 0;
    let recorded = session
        .record(Some(&mut writer), Some(length_us), pending, |_, _| {
            told += 1
        })
        .await
        .unwrap();
    writer.finish().unwrap();
    assert_eq!(recorded.ending, Ending::TimeOver);
    let lines = lines(&path, began_us);
    assert_eq!(lines.len(), told);
    lines
}

fn lines(path: &Path, began_us: u64) -> Vec<Line> {
    let mut reader = Reader::open(path).unwrap();
    let mut lines = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        lines.push(Line {
            t_us: began_us + row.t_us,
            kind: row.kind,
            ecu: row.ecu.to_owned(),
            request: row.request.to_owned(),
            response: row.response.to_owned(),
        });
    }
    assert!(reader.damage().is_none());
    lines
}

fn answers_between(lines: &[Line], from_us: u64, until_us: u64) -> usize {
    let data = lines.iter().filter(|line| line.kind == Kind::Data);
    data.filter(|line| (from_us..until_us).contains(&line.t_us))
        .count()
}

/// The rows that the car never said.
fn wrong<'a>(car: &str, lines: &'a [Line]) -> Vec<&'a Line> {
    let mut witness = Witness::new(parked(car));
    let data = lines.iter().filter(|line| line.kind == Kind::Data);
    data.filter(|line| !witness.confirms(line)).collect()
}

fn link_rows(lines: &[Line]) -> Vec<&str> {
    let links = lines.iter().filter(|line| line.kind == Kind::Link);
    links.map(|line| line.response.as_str()).collect()
}

/// The mishap for a while in the middle.
fn during(mishap: Mishap, share: f64) -> Mishaps {
    Mishaps::seeded(1).with(mishap, share, FROM_US..UNTIL_US)
}

/// What holds of every recording, whatever the adapter does: it went on afterwards as before, there is no pause outside a
/// trouble that is on record, no trouble without its end, and nothing was recorded that the car did not say.
fn check(car: &str, what: &str, lines: &[Line]) {
    let before = answers_between(lines, 2_000_000, FROM_US);
    let end_us = lines.last().unwrap().t_us;
    let after = answers_between(lines, end_us - (FROM_US - 2_000_000), end_us);
    assert!(
        before > 200 && after * 10 > before * 8,
        "{what}: {before} before, {after} after"
    );
    let mut answered_us = FROM_US;
    let (mut told, mut in_trouble) = (false, false);
    for line in lines.iter().filter(|line| line.t_us > FROM_US) {
        if line.kind == Kind::Link {
            (told, in_trouble) = (true, !line.response.starts_with("restored"));
        }
        if line.kind == Kind::Data {
            let gap_us = line.t_us - answered_us;
            assert!(
                told || gap_us < 2_000_000,
                "{what}: {gap_us} before {line:?}"
            );
            (answered_us, told) = (line.t_us, in_trouble);
        }
    }
    let states = link_rows(lines);
    let ended = |state: &&&str| state.starts_with("restored");
    let ends = states.iter().filter(ended).count();
    let habit = |state: &&&str| state.contains("had to be repeated");
    let habits = states.iter().filter(habit).count();
    assert!(ends + habits > 0 || states.is_empty(), "{what}: {states:?}");
    let last = states.iter().rfind(|state| !habit(state));
    assert!(
        last.is_none_or(|last| last.starts_with("restored")),
        "{what}: {states:?}"
    );
    let wrong = wrong(car, lines);
    assert!(wrong.is_empty(), "{what}: {wrong:?}");
}

#[tokio::test]
async fn damaged_lines_are_asked_for_again_and_reported_once() {
    for (mishap, share) in [
        (Mishap::MissingLineEnds, 0.1),
        (Mishap::LostDigit, 0.05),
        (Mishap::CutLine, 0.05),
        (Mishap::BufferFull, 0.1),
    ] {
        let lines = record("van3", during(mishap, share)).await;
        check("van3", &format!("{mishap:?}"), &lines);
        let states = link_rows(&lines);
        assert_eq!(states.len(), 1, "{mishap:?}: {states:?}");
        assert!(states[0].contains("had to be repeated"), "{states:?}");
        let answers = answers_between(&lines, FROM_US, UNTIL_US);
        let before = answers_between(&lines, FROM_US - 3_000_000, FROM_US);
        assert!(
            answers > before,
            "{mishap:?}: {answers}, {before} in half the time"
        );
    }
}

#[tokio::test]
async fn untidy_text_loses_nothing() {
    for (mishap, share) in [
        (Mishap::Zeros, 0.1),
        (Mishap::MixedLineEnds, 1.0),
        (Mishap::DoubledLineEnds, 0.5),
        (Mishap::RepeatsReply, 0.2),
        (Mishap::ByteByByte, 1.0),
    ] {
        let lines = record("van3", during(mishap, share)).await;
        check("van3", &format!("{mishap:?}"), &lines);
        let during = answers_between(&lines, FROM_US, UNTIL_US);
        let before = answers_between(&lines, FROM_US - 3_000_000, FROM_US);
        assert!(
            during * 10 > before * 2 * 9,
            "{mishap:?}: {during}, {before} in half the time"
        );
        assert_eq!(link_rows(&lines), [""; 0], "{mishap:?}");
    }
}

#[tokio::test]
async fn settings_refused_or_ignored_are_coped_with() {
    for setting in ["E0", "L0", "S0", "H1", "AT1"] {
        for mishap in [Mishap::Refuses(setting), Mishap::Ignores(setting)] {
            let mishaps = Mishaps::seeded(1).with(mishap, 1.0, 0..u64::MAX);
            let lines = record("van3", mishaps).await;
            check("van3", &format!("{mishap:?}"), &lines);
            assert_eq!(link_rows(&lines), [""; 0], "{mishap:?}");
        }
    }
}

#[tokio::test]
async fn an_adapter_that_starts_over_gets_its_settings_again() {
    for (mishap, words) in [
        (Mishap::Restarts, "restarted by itself"),
        (
            Mishap::LowVoltage,
            "supply was too low; check battery voltage",
        ),
        (Mishap::Echoes, "lost its settings"),
    ] {
        let mishaps = during(mishap, 0.02).with(Mishap::GarbageAtStart, 1.0, 0..u64::MAX);
        let lines = record("van3", mishaps).await;
        check("van3", &format!("{mishap:?}"), &lines);
        let states = link_rows(&lines);
        assert!(
            states[0].contains(words) && states[1] == "restored",
            "{states:?}"
        );
        assert!(
            answers_between(&lines, FROM_US, UNTIL_US) > 50,
            "{mishap:?}"
        );
    }
}

#[tokio::test]
async fn a_prompt_that_never_comes_is_not_waited_for_long() {
    let lines = record("van3", during(Mishap::LosesPrompt, 0.02)).await;
    check("van3", "lost prompt", &lines);
    assert!(link_rows(&lines)[0].contains("stopped answering"));
}

#[tokio::test]
async fn an_adapter_that_hangs_is_restarted_or_opened_again() {
    for (mishap, last) in [
        (Mishap::Hangs, "restarting the adapter"),
        (Mishap::HangsHard, "opening the port again"),
    ] {
        let lines = record_for(50_000_000, "van3", during(mishap, 0.01)).await;
        check("van3", &format!("{mishap:?}"), &lines);
        let states = link_rows(&lines);
        assert!(
            states.iter().any(|state| state.ends_with(last)),
            "{states:?}"
        );
    }
}

#[tokio::test]
async fn everything_at_once_is_survived() {
    for (seed, car) in [(1, "van3"), (2, "wagon2"), (3, "pickup1")] {
        let shares = [
            (Mishap::Echoes, 0.01),
            (Mishap::LosesPrompt, 0.002),
            (Mishap::Zeros, 0.01),
            (Mishap::MixedLineEnds, 0.1),
            (Mishap::MissingLineEnds, 0.02),
            (Mishap::DoubledLineEnds, 0.1),
            (Mishap::LostDigit, 0.02),
            (Mishap::CutLine, 0.02),
            (Mishap::RepeatsReply, 0.02),
            (Mishap::Restarts, 0.005),
            (Mishap::LowVoltage, 0.005),
            (Mishap::Hangs, 0.002),
            (Mishap::BufferFull, 0.02),
        ];
        let start = Mishaps::seeded(seed).with(Mishap::GarbageAtStart, 1.0, 0..u64::MAX);
        let mishaps = shares.into_iter().fold(start, |mishaps, (mishap, share)| {
            mishaps.with(mishap, share, FROM_US..UNTIL_US)
        });
        let lines = record_for(40_000_000, car, mishaps).await;
        check(car, car, &lines);
    }
}

/// The numbers that the engine controller did not say, by item.
fn wrong_numbers(car: &str, lines: &[Line]) -> Vec<(Item, f64, f64)> {
    let mut witness = Witness::new(parked(car));
    let mut wrong = Vec::new();
    for line in lines.iter().filter(|line| line.kind == Kind::Data) {
        let said = |response: &str, take: &mut dyn FnMut(Item, f64)| {
            numbers(&row_of(line, response), take);
        };
        if witness.confirms(line) || !["", "7E8"].contains(&line.ecu.as_str()) {
            continue;
        }
        let request = hex::decode(&line.request).unwrap();
        let mut truth = Vec::new();
        for car in &mut witness.seen {
            if let Some(answer) = car.answer(&request).first() {
                said(&hex::encode(&answer.payload), &mut |item, value| {
                    truth.push((item, value))
                });
            }
        }
        said(&line.response, &mut |item, value| {
            let off = |(_, true_value): &(Item, f64)| (true_value - value).abs();
            let same = truth.iter().filter(|(other, _)| *other == item);
            if let Some(off) = same.map(off).min_by(f64::total_cmp)
                && off > 0.0
            {
                wrong.push((item, value, off));
            }
        });
    }
    wrong
}

fn row_of<'a>(line: &'a Line, response: &'a str) -> Row<'a> {
    Row {
        t_us: line.t_us,
        kind: line.kind,
        ecu: &line.ecu,
        request: &line.request,
        response,
    }
}

/// The summary of what was recorded.
fn summary_of(lines: &[Line]) -> Summary {
    let mut decoder = Decoder::new(&Header::default());
    let mut builder = Builder::new();
    for line in lines {
        decoder.row(&row_of(line, &line.response), |fact| {
            if let Fact::Reading(reading) = fact {
                builder.push(reading);
            }
        });
    }
    builder.finish()
}

// A digit changed within the data betrays itself by nothing on CAN, where the adapter prints no checksum.
#[tokio::test]
async fn changed_digits_get_into_the_capture_but_not_far_into_the_judgement() {
    let clean = summary_of(&record_for(100_000_000, "van3", Mishaps::default()).await);
    assert_eq!(clean.dropped, []);
    for headers in ["on", "off"] {
        let mut mishaps = Mishaps::seeded(7).with(Mishap::ChangedDigit, 0.01, FROM_US..u64::MAX);
        if headers == "off" {
            mishaps = mishaps.with(Mishap::Refuses("H1"), 1.0, 0..u64::MAX);
        }
        let lines = record_for(100_000_000, "van3", mishaps).await;
        let wrong = wrong_numbers("van3", &lines);
        let summary = summary_of(&lines);
        let dropped = summary.left_out();
        let told = format!(
            "headers {headers}: {} wrong, {:?}",
            wrong.len(),
            summary.dropped
        );
        assert!(wrong.len() > 10 && dropped >= 5, "{told}");
        // no reading is dropped that was right
        assert!(dropped <= wrong.len() as u64, "{told}");
        assert!(summary.seconds.implausible < 1.0, "{told}");
        // a counter that reads 1536 for once is no misfire
        let counts = |summary: &Summary| {
            let cylinders = summary.misfires.clone().unwrap().cylinders;
            let counts: Vec<f64> = cylinders.iter().map(|cylinder| cylinder.count).collect();
            counts
        };
        assert_eq!(counts(&summary), counts(&clean), "{told}");
        let mean = |summary: &Summary| summary.trims[0].mean_log;
        let off = mean(&summary) - mean(&clean);
        assert!(off.abs() < 0.002, "{told}: trims off by {off}");
    }
}
