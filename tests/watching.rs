//! Watching and recording with a person beside it: marks, and what is told to a screen.

use std::{cell::RefCell, future::pending, os::unix::fs::symlink};

use pintle::{
    capture::{Kind, Writer},
    link::{Ending, RecordingRequest, Session},
};
use tokio::sync::mpsc::unbounded_channel;

use crate::{
    bay::{Bay, device},
    harness::Workbench,
    recording::{LOST, Line, lines, link_states},
};

fn marks(lines: &[Line]) -> Vec<&str> {
    let marks = lines.iter().filter(|line| line.kind == Kind::Mark);
    marks.map(|line| line.response.as_str()).collect()
}

fn assert_in_order(lines: &[Line]) {
    assert!(lines.windows(2).all(|two| two[0].t_us <= two[1].t_us));
}

#[tokio::test]
async fn marks_become_rows_at_their_time_and_in_their_order() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let bay = Bay::simulated("van3");
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let (person, mut requests) = unbounded_channel();
    let mark = |words: &str| RecordingRequest::Mark(words.to_owned());
    let mut said = vec![
        (50, vec![mark("raised idle")]),
        (
            100,
            vec![
                mark("A/C on, \"cold\""),
                mark("idle"),
                RecordingRequest::Stop,
                mark("too late"),
            ],
        ),
    ]
    .into_iter()
    .peekable();
    let mut told = Vec::new();
    session
        .record(
            Some(&mut writer),
            None,
            async || requests.recv().await.unwrap(),
            |row, progress| {
                told.push((row.t_us, row.response.to_owned()));
                if let Some((_, requests)) =
                    said.next_if(|(answers, _)| *answers == progress.answers)
                {
                    requests
                        .into_iter()
                        .for_each(|request| person.send(request).unwrap());
                }
            },
        )
        .await
        .unwrap();
    writer.finish().unwrap();
    let lines = lines(&path);
    assert_eq!(
        marks(&lines),
        [
            "recording starts",
            "raised idle",
            "A/C on, \"cold\"",
            "idle",
            "recording ends"
        ]
    );
    assert_in_order(&lines);
    // each stands between the answers that came before and after it
    let target = |words: &str| lines.iter().position(|line| line.response == words);
    let raised = target("raised idle").unwrap();
    assert_eq!(lines[raised - 1].kind, Kind::Data);
    assert_eq!(lines[raised + 1].kind, Kind::Data);
    // the file and the one who watches see the same
    let written = lines.iter().map(|line| (line.t_us, line.response.clone()));
    assert_eq!(told, written.collect::<Vec<_>>());
}

#[tokio::test]
async fn a_mark_is_taken_while_a_lost_adapter_is_waited_for() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let name = bench.path().join("adapter");
    let bay = Bay::simulated("van3");
    symlink(bay.path(), &name).unwrap();
    bay.endpoint.unplug_at(10_000_000);
    let mut session = Session::connect(device(name.to_str().unwrap()), bay.clock.clone())
        .await
        .unwrap();
    let mut writer = Writer::create(&path, &session.header(None)).unwrap();
    let (person, mut requests) = unbounded_channel();
    let again = RefCell::new(None);
    let recorded = session
        .record(
            Some(&mut writer),
            Some(30_000_000),
            async || requests.recv().await.unwrap(),
            |row, _| match row.response {
                LOST => person
                    .send(RecordingRequest::Mark("plug fell out".to_owned()))
                    .unwrap(),
                // it comes back only once the mark was taken
                "plug fell out" => {
                    std::fs::remove_file(&name).unwrap();
                    let bay = Bay::at("van3", bay.clock.clone());
                    symlink(bay.path(), &name).unwrap();
                    again.replace(Some(bay));
                }
                _ => {}
            },
        )
        .await
        .unwrap();
    writer.finish().unwrap();
    assert_eq!(recorded.ending, Ending::TimeOver);
    let lines = lines(&path);
    assert_eq!(link_states(&lines), [LOST, "restored"]);
    assert_in_order(&lines);
    let target = |words: &str| lines.iter().position(|line| line.response == words);
    assert!(target(LOST) < target("plug fell out"));
    assert!(target("plug fell out") < target("restored"));
}

#[tokio::test]
async fn without_a_file_everything_is_reported_and_nothing_written() {
    let bay = Bay::simulated("van3");
    let mut session = Session::connect(device(bay.path()), bay.clock.clone())
        .await
        .unwrap();
    let mut told = 0;
    let recorded = session
        .record(None, Some(20_000_000), pending, |row, _| {
            told += u64::from(row.kind == Kind::Data);
        })
        .await
        .unwrap();
    assert_eq!(recorded.ending, Ending::TimeOver);
    assert!(recorded.length_us >= 20_000_000);
    assert!(recorded.answers > 100 && told >= recorded.answers);
}
