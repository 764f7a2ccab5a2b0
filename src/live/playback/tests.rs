//! Any order of keys leads to the same as reading straight on.

use proptest::prelude::*;

use super::*;
use crate::{
    capture::Row,
    live::sample::{capture, row},
};

/// Something that a person does, places as shares of the length.
#[derive(Debug, Clone)]
enum Act {
    To(f64),
    Go(i64),
    Step(i64),
    Play(u64),
    Pause,
    PreviousMark,
    NextMark,
    Begin,
    End,
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        4 => (0.0..1.1).prop_map(Act::To),
        2 => (-90_i64..90).prop_map(Act::Go),
        1 => (-1_i64..2).prop_map(Act::Step),
        2 => (0_u64..20_000).prop_map(Act::Play),
        1 => Just(Act::Pause),
        1 => Just(Act::PreviousMark),
        1 => Just(Act::NextMark),
        1 => Just(Act::Begin),
        1 => Just(Act::End),
    ]
}

fn perform(playback: &mut Playback, act: &Act, length_us: u64) {
    match act {
        Act::To(share) => playback.go_to((share * length_us as f64) as u64),
        Act::Go(seconds) => playback.go(*seconds),
        Act::Step(seconds) => playback.step(*seconds),
        Act::Play(ms) => playback.go_on(Duration::from_millis(*ms)).unwrap(),
        Act::Pause => playback.pause(),
        Act::PreviousMark => playback.previous_mark(),
        Act::NextMark => playback.next_mark(),
        Act::Begin => playback.begin(),
        Act::End => playback.end(),
    }
}

/// Lets the playing come to where it is asked to go.
fn arrive(playback: &mut Playback) {
    while playback.goal.is_some() {
        playback.go_on(Duration::ZERO).unwrap();
        std::thread::yield_now();
    }
}

/// All rows up to a time, read in order; and the time of the last row of all.
fn played_to(path: &Path, t_us: u64) -> (Model, u64) {
    let mut reader = Reader::open(path).unwrap();
    let mut model = Model::new(reader.header(), &[]);
    let mut last_us = 0;
    while let Some(row) = reader.next_row().unwrap() {
        last_us = row.t_us;
        if row.t_us <= t_us {
            model.take(&row);
        }
    }
    (model, last_us)
}

fn assert_same(one: &Model, other: &Model) -> Result<(), TestCaseError> {
    prop_assert_eq!(one.t_us(), other.t_us());
    prop_assert_eq!(one.version(), other.version());
    prop_assert_eq!(one.summary(), other.summary());
    prop_assert_eq!(one.whole(), other.whole());
    prop_assert_eq!(one.running(), other.running());
    prop_assert!(one.history().since(0).eq(other.history().since(0)));
    prop_assert!(one.journal().entries().eq(other.journal().entries()));
    prop_assert_eq!(one.run().guidance(), other.run().guidance());
    Ok(())
}

/// Few and close together, so that short captures have some, and lose some.
const DENSE: Density = Density {
    bytes: 400,
    most: 8,
};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_place_says_the_same_whichever_way_led_there(
        rows in prop::collection::vec(row(), 1..800),
        acts in prop::collection::vec(act(), 1..12),
    ) {
        let file = capture(&rows);
        let (_, last_us) = played_to(file.path(), u64::MAX);
        let mut playback = Playback::with_density(file.path(), 1.0, DENSE).unwrap();
        for act in &acts {
            perform(&mut playback, act, last_us);
            arrive(&mut playback);
            // the clock may have cut the last stretch of playing short
            playback.go(0);
            arrive(&mut playback);
            let at_us = playback.shown().at_us;
            prop_assert!(at_us <= last_us, "{} beyond {}", at_us, last_us);
            let (straight, _) = played_to(file.path(), at_us);
            assert_same(playback.model(), &straight)?;
        }
    }
}

/// A mark every ten seconds from 0:00 to 1:00.
fn marks() -> tempfile::NamedTempFile {
    let mut text = b"# capture 1\n# {}\nt_us,kind,ecu,request,response\n".to_vec();
    for ten in 0..=6 {
        Row::mark(ten * 10_000_000, "here").append_to(&mut text);
    }
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    file
}

fn seconds_after(playback: &mut Playback, what: impl FnOnce(&mut Playback)) -> f64 {
    what(playback);
    arrive(playback);
    playback.shown().at_us as f64 / 1e6
}

#[test]
fn keys_lead_to_times_and_marks_and_stay_inside_the_recording() {
    let file = marks();
    let mut playback = Playback::open(file.path(), 1.0).unwrap();
    playback.pause();
    let playback = &mut playback;
    assert_eq!(seconds_after(playback, |it| it.go(25)), 25.0);
    assert_eq!(seconds_after(playback, Playback::next_mark), 30.0);
    assert_eq!(seconds_after(playback, Playback::next_mark), 40.0);
    assert_eq!(seconds_after(playback, Playback::previous_mark), 30.0);
    assert_eq!(seconds_after(playback, |it| it.step(-1)), 29.0);
    assert_eq!(seconds_after(playback, |it| it.go(-60)), 0.0);
    assert_eq!(seconds_after(playback, Playback::previous_mark), 0.0);
    assert_eq!(seconds_after(playback, |it| it.go(600)), 60.0);
    assert_eq!(seconds_after(playback, Playback::next_mark), 60.0);
    assert_eq!(seconds_after(playback, Playback::begin), 0.0);
    assert_eq!(seconds_after(playback, Playback::end), 60.0);
    let shown = playback.shown();
    assert_eq!(shown.length_us, Some(60_000_000));
    assert_eq!(shown.marks_us.len(), 7);
}

#[test]
fn going_further_before_it_has_arrived_adds_up() {
    let file = marks();
    let mut playback = Playback::open(file.path(), 1.0).unwrap();
    let seconds = seconds_after(&mut playback, |it| {
        it.go(10);
        it.go(10);
        it.go(-1);
    });
    assert_eq!(seconds, 19.0);
}

#[test]
fn a_mark_just_passed_is_not_the_one_before() {
    let file = marks();
    let mut playback = Playback::open(file.path(), 1.0).unwrap();
    let playback = &mut playback;
    seconds_after(playback, |it| it.go_to(20_000_000));
    playback.go_on(Duration::from_millis(400)).unwrap();
    assert_eq!(seconds_after(playback, Playback::previous_mark), 10.0);
    playback.go_on(Duration::from_millis(1500)).unwrap();
    assert_eq!(seconds_after(playback, Playback::previous_mark), 10.0);
}

#[test]
fn it_plays_as_fast_as_asked_for_and_stands_at_the_end_until_begun_again() {
    let file = marks();
    let mut playback = Playback::open(file.path(), 2.0).unwrap();
    playback.go_on(Duration::from_secs(10)).unwrap();
    assert_eq!(playback.shown().at_us, 20_000_000);
    playback.speed_up(0.5);
    playback.go_on(Duration::from_secs(10)).unwrap();
    assert_eq!(playback.shown().at_us, 30_000_000);
    playback.pause();
    playback.go_on(Duration::from_secs(10)).unwrap();
    assert_eq!(playback.shown().at_us, 30_000_000);
    playback.pause();
    playback.go_on(Duration::from_secs(100)).unwrap();
    assert_eq!(playback.shown().at_us, 60_000_000);
    assert!(playback.shown().ended);
    playback.go_on(Duration::from_secs(100)).unwrap();
    assert_eq!(playback.shown().at_us, 60_000_000);
    assert_eq!(seconds_after(&mut playback, Playback::pause), 0.0);
    playback.go_on(Duration::from_secs(1)).unwrap();
    assert_eq!(playback.shown().at_us, 1_000_000);
}

#[test]
fn speed_stays_within_its_limits() {
    let file = marks();
    let mut playback = Playback::open(file.path(), 1.0).unwrap();
    for _ in 0..40 {
        playback.speed_up(2.0);
    }
    assert_eq!(playback.shown().speed, *SPEEDS.end());
    for _ in 0..40 {
        playback.speed_up(0.5);
    }
    assert_eq!(playback.shown().speed, *SPEEDS.start());
}
