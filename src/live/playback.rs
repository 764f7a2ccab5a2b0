//! A capture as if it were recorded now: position, speed, standing still, going to another place.
//!
//! At a position stands what all rows up to that time say, whichever way led there.

use std::{
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use super::{
    model::Model,
    scene,
    survey::{Checkpoint, Density, Survey},
};
use crate::capture::{CaptureError, Header, Next, Reader};

/// Speeds, seconds of the recording in a second.
pub const SPEEDS: std::ops::RangeInclusive<f64> = 0.125..=1024.0;

/// Longest time spent on rows in one frame: half of it, so that drawing and keys are not held up.
const LONGEST: Duration = Duration::from_millis(15);

/// Rows between two looks at the clock.
const ROWS_AT_ONCE: u32 = 64;

/// Whoever has just come to a mark and lets it play can still go to the one before within this time, µs.
const LENIENCE_US: u64 = 1_000_000;

/// A place that was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Goal {
    /// A time, µs.
    Time(u64),
    /// The first mark after a time, µs.
    MarkAfter(u64),
}

/// A capture being played.
pub struct Playback {
    path: PathBuf,
    reader: Reader,
    model: Model,
    start: Checkpoint,
    survey: Survey,
    paused: bool,
    speed: f64,
    /// Time of the first row, µs.
    begin_us: u64,
    /// Position, µs since the recording started.
    at_us: u64,
    goal: Option<Goal>,
    /// Whether the last row was taken.
    ended: bool,
}

impl Playback {
    /// Opens a capture and stands at its first row.
    ///
    /// # Errors
    /// When there is no file, or it does not begin as a capture does.
    pub fn open(path: &Path, speed: f64) -> Result<Self, CaptureError> {
        Self::with_density(path, speed, Density::USUAL)
    }

    fn with_density(path: &Path, speed: f64, density: Density) -> Result<Self, CaptureError> {
        let mut reader = Reader::open(path)?;
        let start = Checkpoint {
            model: Model::new(reader.header(), &[]),
            place: reader.place(),
        };
        let mut model = start.model.clone();
        let begin_us = match reader.next_row_until(0)? {
            Next::Later(t_us) => t_us,
            Next::End => 0,
            Next::Row(row) => {
                model.take(&row);
                0
            }
        };
        Ok(Self {
            path: path.to_owned(),
            reader,
            model,
            start,
            survey: Survey::begin(path.to_owned(), density),
            paused: false,
            speed: speed.clamp(*SPEEDS.start(), *SPEEDS.end()),
            begin_us,
            at_us: begin_us,
            goal: None,
            ended: false,
        })
    }

    /// Where the recording comes from.
    pub const fn header(&self) -> &Header {
        self.reader.header()
    }

    /// What the recording says up to the position.
    pub const fn model(&self) -> &Model {
        &self.model
    }

    /// Moves on by the time that has passed, or towards the place that was asked for; never for much longer than half a
    /// frame, so that at a speed beyond what the computer can read the position stays behind.
    ///
    /// # Errors
    /// When the medium cannot be read any further.
    pub fn go_on(&mut self, passed: Duration) -> Result<(), CaptureError> {
        if let Some(goal) = self.goal {
            return self.approach(goal);
        }
        if !self.paused && !self.ended {
            let further_us = passed.as_micros() as f64 * self.speed;
            self.read_until(self.at_us.saturating_add(further_us as u64))?;
        }
        Ok(())
    }

    /// Goes to a place as soon as the survey has been there.
    fn approach(&mut self, goal: Goal) -> Result<(), CaptureError> {
        let is_through = self.survey.is_through();
        let to_us = match goal {
            Goal::Time(t_us) => (is_through || t_us <= self.survey.read_us()).then_some(t_us),
            Goal::MarkAfter(t_us) => {
                let marks_us = self.survey.marks_us();
                let after = marks_us.into_iter().find(|mark_us| *mark_us > t_us);
                if after.is_none() && is_through {
                    self.goal = None;
                }
                after
            }
        };
        let Some(to_us) = to_us else {
            return Ok(());
        };
        let here_us = self.model.t_us();
        let on_the_way = here_us <= to_us;
        let nearer = self.survey.checkpoint(on_the_way.then_some(here_us), to_us);
        match nearer {
            Some(checkpoint) => self.go_on_from(checkpoint)?,
            None if on_the_way => {}
            None => self.go_on_from(self.start.clone())?,
        }
        if self.read_until(to_us)? {
            self.goal = None;
        }
        Ok(())
    }

    fn go_on_from(&mut self, checkpoint: Checkpoint) -> Result<(), CaptureError> {
        self.reader.go_to(&self.path, &checkpoint.place)?;
        self.model = checkpoint.model;
        self.ended = false;
        Ok(())
    }

    /// Takes the rows up to a time, as long as it does not take too long; whether it came there, or to the end.
    fn read_until(&mut self, until_us: u64) -> Result<bool, CaptureError> {
        let deadline = Instant::now() + LONGEST;
        loop {
            for _ in 0..ROWS_AT_ONCE {
                match self.reader.next_row_until(until_us)? {
                    Next::Row(row) => self.model.take(&row),
                    Next::Later(_) => {
                        self.at_us = until_us;
                        return Ok(true);
                    }
                    Next::End => {
                        self.at_us = self.model.t_us();
                        self.ended = true;
                        return Ok(true);
                    }
                }
            }
            if Instant::now() >= deadline {
                self.at_us = self.model.t_us();
                return Ok(false);
            }
        }
    }

    /// Stands still, or goes on; at the end, begins again.
    pub fn pause(&mut self) {
        if self.ended && self.goal.is_none() {
            self.paused = false;
            self.begin();
        } else {
            self.paused = !self.paused;
        }
    }

    /// Goes so many seconds back or on.
    pub fn go(&mut self, seconds: i64) {
        let from_us = match self.goal {
            Some(Goal::Time(u64::MAX)) => self.survey.read_us(),
            Some(Goal::Time(t_us)) => t_us,
            Some(Goal::MarkAfter(_)) | None => self.at_us,
        };
        let to_us = from_us.saturating_add_signed(seconds.saturating_mul(1_000_000));
        self.go_to(to_us);
    }

    /// Goes so many seconds back or on and stands still there.
    pub fn step(&mut self, seconds: i64) {
        self.paused = true;
        self.go(seconds);
    }

    /// Goes to a time, µs since the recording started; one before or after the recording is its beginning or end.
    pub fn go_to(&mut self, t_us: u64) {
        let last_us = self.length_us().unwrap_or(u64::MAX);
        self.goal = Some(Goal::Time(t_us.min(last_us).max(self.begin_us)));
    }

    /// Goes so many µs beyond the first row.
    pub fn go_from_begin(&mut self, further_us: u64) {
        self.go_to(self.begin_us.saturating_add(further_us));
    }

    /// Goes to the beginning.
    pub fn begin(&mut self) {
        self.go_to(self.begin_us);
    }

    /// Goes to the end.
    pub fn end(&mut self) {
        self.goal = Some(Goal::Time(u64::MAX));
    }

    /// Goes to the mark before, without one to the beginning.
    pub fn previous_mark(&mut self) {
        let lenience_us = match self.paused || self.ended {
            true => 0,
            false => (LENIENCE_US as f64 * self.speed.max(1.0)) as u64,
        };
        let before_us = self.at_us.saturating_sub(lenience_us);
        let marks_us = self.survey.marks_us();
        let before = marks_us.into_iter().rfind(|mark_us| *mark_us < before_us);
        self.go_to(before.unwrap_or(self.begin_us));
    }

    /// Goes to the mark after, if there is one.
    pub fn next_mark(&mut self) {
        self.goal = Some(Goal::MarkAfter(self.at_us));
    }

    /// Twice as fast, or half as fast.
    pub fn speed_up(&mut self, by: f64) {
        self.speed = (self.speed * by).clamp(*SPEEDS.start(), *SPEEDS.end());
    }

    /// Time of the last row, µs; once it is known.
    fn length_us(&self) -> Option<u64> {
        // of a capture that is still being written, playing may have read more by now
        let known = self.ended || self.survey.is_through();
        known.then(|| self.survey.read_us().max(self.at_us))
    }

    /// How the screen shows it.
    pub fn shown(&self) -> scene::Playback {
        scene::Playback {
            begin_us: self.begin_us,
            at_us: self.at_us,
            read_us: self.survey.read_us().max(self.at_us),
            length_us: self.length_us(),
            speed: self.speed,
            paused: self.paused,
            ended: self.ended,
            marks_us: self.survey.marks_us(),
            seeking: self.goal.is_some(),
        }
    }
}

#[cfg(test)]
mod tests {
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
}
