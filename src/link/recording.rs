//! Recording: asks what the plan wants and writes every answer down, through all troubles of the link, until it is told
//! to stop.

use std::{future::Future, time::Duration};

use pintle_protocol::dialogue::{Answer, Connection, Event, NoAnswer, RecoveryStep};
use tokio::{task::yield_now, time::timeout};

use super::{
    disturbance::Disturbance,
    error::{LinkError, OpenError},
    plan,
    poller::Poller,
    rate::Rate,
    rows,
    session::Session,
};
use crate::capture::{CaptureError, Kind, Row, Writer};

/// How long a lost adapter is waited for, µs.
const WAIT_FOR_ADAPTER_US: u64 = 120_000_000;

/// Time between two attempts to open it again, µs.
const TRY_EVERY_US: u64 = 1_000_000;

/// How long the request in the air may still take when recording is to stop, in real time.
const GRACE: Duration = Duration::from_millis(500);

/// Answers that have been coming normally.
const ALL_IS_WELL: &str = "recording";

/// What the person can do about a device that is gone, and what happens then.
const WHEN_GONE: &str = "; plug the adapter in again, recording then goes on by itself";

/// Why a recording could not be begun or went no further.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The way to the car.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
}

/// How a recording ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// The time asked for is over.
    TimeOver,
    /// It was told to stop.
    Stopped,
    /// The adapter was lost and did not come back; what happened.
    Lost(String),
}

/// What became of a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded {
    /// How it ended.
    pub ending: Ending,
    /// How long it is, in µs.
    pub length_us: u64,
    /// Requests that were answered.
    pub answers: u64,
    /// Requests that had to be made again because the answer could not be used.
    pub asked_again: u64,
}

/// How a recording goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// Time since it began, µs.
    pub elapsed_us: u64,
    /// Requests answered so far.
    pub answers: u64,
    /// Answers a second, lately.
    pub answers_per_s: f64,
    /// State of the link in a few words.
    pub state: String,
}

impl Session {
    /// Records until `length_us` is over, `stop` is ready, or the adapter is lost for good. `tell` gets every row that
    /// was written. The request in the air is brought to its end before this returns, if that takes no longer than half
    /// a second.
    ///
    /// # Errors
    /// When there is no engine controller, or the file cannot be written any more.
    pub async fn record(
        &mut self,
        writer: &mut Writer,
        length_us: Option<u64>,
        stop: impl Future<Output = ()>,
        tell: impl FnMut(&Row<'_>, &Progress),
    ) -> Result<Recorded, RecordError> {
        let is_can = self.connection.protocol.is_can();
        let wanted = plan::recording(self.engine()?, is_can, self.connection.services);
        let began_us = self.clock.now_us();
        let poller = Poller::new(&wanted, &self.connection, began_us);
        let mut recorder = Recorder {
            session: self,
            poller,
            pages: Pages {
                writer,
                tell,
                began_us,
                progress: Progress {
                    elapsed_us: 0,
                    answers: 0,
                    answers_per_s: 0.0,
                    state: ALL_IS_WELL.to_owned(),
                },
                rate: Rate::default(),
                disturbance: Disturbance::default(),
                in_trouble: false,
            },
            end_us: length_us.map(|length_us| began_us.saturating_add(length_us)),
            goes_on: true,
        };
        recorder.pages.mark(began_us, "recording starts")?;
        let ending = tokio::select! {
            biased;
            () = stop => Ending::Stopped,
            ending = recorder.run() => ending?,
        };
        recorder.finish(ending).await
    }
}

/// A recording under way.
struct Recorder<'a, T> {
    session: &'a mut Session,
    poller: Poller,
    pages: Pages<'a, T>,
    end_us: Option<u64>,
    /// Whether further requests are made.
    goes_on: bool,
}

impl<T: FnMut(&Row<'_>, &Progress)> Recorder<'_, T> {
    /// Goes on until the end. Dropping the future between any two rows leaves everything in order.
    async fn run(&mut self) -> Result<Ending, RecordError> {
        while !self.is_over() {
            // a wish to stop is heard even when every answer is there already
            yield_now().await;
            let lost = match self.turn().await {
                Ok(()) => continue,
                Err(RecordError::Link(LinkError::Lost(words))) => words,
                Err(error) => return Err(error),
            };
            if let Some(ending) = self.wait_for_adapter(lost).await? {
                return Ok(ending);
            }
        }
        Ok(Ending::TimeOver)
    }

    fn is_over(&self) -> bool {
        let now_us = self.session.clock.now_us();
        self.end_us.is_some_and(|end_us| end_us <= now_us)
    }

    /// Makes the next request if it is time for it, and takes the next event.
    async fn turn(&mut self) -> Result<(), RecordError> {
        let free = self.ask();
        let due_us = match free && !self.poller.is_asking() {
            true => self.poller.next_due_us(),
            false => None,
        };
        let until_us = [due_us, self.end_us].into_iter().flatten().min();
        match self.session.pump.next_event(until_us).await? {
            Some(event) => self.take(event),
            None => Ok(()),
        }
    }

    /// Makes the next request if it is time for it; whether one could be made.
    fn ask(&mut self) -> bool {
        let pump = &mut self.session.pump;
        let free = self.goes_on && pump.is_ready() && !self.poller.is_asking();
        if free && let Some((request, lines)) = self.poller.next(self.session.clock.now_us()) {
            pump.request(&request, lines);
        }
        free
    }

    fn take(&mut self, event: Event) -> Result<(), RecordError> {
        let now_us = self.session.clock.now_us();
        match event {
            Event::Answer(answer) => {
                self.poller.on_answer(&answer);
                // first the next request, so that the line is at work while this answer is written down
                if !self.is_over() {
                    self.ask();
                    self.session.pump.send_now();
                }
                self.pages.answer(&answer)?;
            }
            Event::NoAnswer(no_answer) => {
                self.poller.on_no_answer(&no_answer);
                self.pages.no_answer(&no_answer)?;
            }
            Event::LinkTrouble {
                step: RecoveryStep::AskAgain,
                words,
            } => self.pages.disturbance.asked_again(&words),
            Event::LinkTrouble { words, .. }
            | Event::Restarted { words }
            | Event::CarSilent { words, .. } => self.pages.trouble(now_us, &words)?,
            Event::Recovered | Event::Connected(_) => self.pages.restored(now_us)?,
            Event::NeedReopen { words } => return Err(LinkError::Lost(words).into()),
            Event::SetupFailed(failure) => {
                return Err(LinkError::Lost(failure.to_string()).into());
            }
        }
        Ok(())
    }

    /// Closes the device, and opens it again as soon as it is there. An ending if it does not come back, or if time is
    /// over before.
    async fn wait_for_adapter(&mut self, words: String) -> Result<Option<Ending>, RecordError> {
        let clock = self.session.clock.clone();
        let device = self.session.device.clone();
        let step = match self.session.pump.close() {
            true => "",
            false => WHEN_GONE,
        };
        self.drain()?;
        self.pages.rate = Rate::default();
        self.pages
            .trouble(clock.now_us(), &format!("lost: {words}{step}"))?;
        let mut give_up_us = clock.now_us().saturating_add(WAIT_FOR_ADAPTER_US);
        let mut told = None;
        while !self.is_over() {
            match self.reopen().await {
                Ok(true) => {
                    if self.session.device != device {
                        let words = format!("found again as {}", self.session.device);
                        self.pages.trouble(clock.now_us(), &words)?;
                    }
                    self.pages.restored(clock.now_us())?;
                    return Ok(None);
                }
                Ok(false) => continue,
                Err(error) => {
                    if !is_away(&error) {
                        // the adapter is there; the car, or the person, may take their time
                        give_up_us = clock.now_us().saturating_add(WAIT_FOR_ADAPTER_US);
                        if told.as_ref() != Some(&error) {
                            let words = format!("{error}; {}", error.next_step());
                            self.pages.trouble(clock.now_us(), &words)?;
                        }
                    }
                    told = Some(error);
                }
            }
            self.session.pump.close();
            if clock.now_us() >= give_up_us {
                return Ok(Some(Ending::Lost(words)));
            }
            let next_us = clock.now_us().saturating_add(TRY_EVERY_US);
            clock
                .sleep_until(self.end_us.map_or(next_us, |end_us| end_us.min(next_us)))
                .await;
        }
        Ok(Some(Ending::TimeOver))
    }

    /// Tries once to connect again; `false` when the recording's time was over before.
    async fn reopen(&mut self) -> Result<bool, LinkError> {
        let session = &mut *self.session;
        let found = match &session.trail {
            Some(trail) => Some(trail.find().ok_or(OpenError::Missing)?),
            None => None,
        };
        let device = found.map_or(session.device.clone(), |path| {
            session.device.moved_to(&path)
        });
        session.pump.open(&device, session.baud).await?;
        let Some(connection) = session.pump.connected(self.end_us).await? else {
            return Ok(false);
        };
        let engine = |connection: &Connection| {
            let engine = connection.engine()?;
            Some((engine.address, engine.parameters))
        };
        if engine(&connection) != engine(&session.connection) {
            return Err(LinkError::OtherCar);
        }
        session.device = device;
        Ok(true)
    }

    /// Takes what a closed line still had to report: the request that it cut off.
    fn drain(&mut self) -> Result<(), RecordError> {
        while let Some(event) = self.session.pump.event_left() {
            if let Event::NoAnswer(_) = event {
                self.take(event)?;
            }
        }
        Ok(())
    }

    /// Lets the request in the air end, and writes the last row.
    async fn finish(mut self, ending: Ending) -> Result<Recorded, RecordError> {
        (self.end_us, self.goes_on) = (None, false);
        let rest = async {
            while self.poller.is_asking() {
                self.turn().await?;
            }
            Ok::<(), RecordError>(())
        };
        if let Ok(Err(RecordError::Capture(error))) = timeout(GRACE, rest).await {
            return Err(error.into());
        }
        let now_us = self.session.clock.now_us();
        self.pages.mark(now_us, "recording ends")?;
        Ok(Recorded {
            ending,
            length_us: self.pages.progress.elapsed_us,
            answers: self.pages.progress.answers,
            asked_again: self.pages.disturbance.total,
        })
    }
}

/// Whether the adapter itself is away, so that only waiting helps.
const fn is_away(error: &LinkError) -> bool {
    matches!(
        error,
        LinkError::Lost(_)
            | LinkError::Open(
                OpenError::Missing | OpenError::Unreachable(_) | OpenError::UnknownHost
            )
    )
}

/// The capture being written, and whoever watches it.
struct Pages<'a, T> {
    writer: &'a mut Writer,
    tell: T,
    began_us: u64,
    progress: Progress,
    rate: Rate,
    disturbance: Disturbance,
    /// A trouble was told of, its end not yet.
    in_trouble: bool,
}

impl<T: FnMut(&Row<'_>, &Progress)> Pages<'_, T> {
    fn answer(&mut self, answer: &Answer) -> Result<(), CaptureError> {
        self.progress.answers += 1;
        self.rate.count(answer.answered_at_us);
        rows::of_answer(answer, |row| self.write(row))?;
        self.request_over(answer.answered_at_us)
    }

    /// Tells of disturbances once there are many: a trouble that needs no end.
    fn request_over(&mut self, at_us: u64) -> Result<(), CaptureError> {
        match self.disturbance.request_over(at_us) {
            Some(words) => self.remark(at_us, Kind::Link, &words),
            None => Ok(()),
        }
    }

    fn no_answer(&mut self, no_answer: &NoAnswer) -> Result<(), CaptureError> {
        rows::of_no_answer(no_answer, |row| self.write(row))?;
        self.request_over(no_answer.ended_at_us)
    }

    fn mark(&mut self, at_us: u64, words: &str) -> Result<(), CaptureError> {
        self.remark(at_us, Kind::Mark, words)
    }

    fn trouble(&mut self, at_us: u64, words: &str) -> Result<(), CaptureError> {
        words.clone_into(&mut self.progress.state);
        self.in_trouble = true;
        self.remark(at_us, Kind::Link, words)
    }

    fn restored(&mut self, at_us: u64) -> Result<(), CaptureError> {
        ALL_IS_WELL.clone_into(&mut self.progress.state);
        if !std::mem::take(&mut self.in_trouble) {
            return Ok(());
        }
        self.remark(at_us, Kind::Link, "restored")
    }

    fn remark(&mut self, at_us: u64, kind: Kind, words: &str) -> Result<(), CaptureError> {
        self.write(Row {
            t_us: at_us,
            kind,
            ecu: "",
            request: "",
            response: words,
        })
    }

    /// Writes a row whose time is the session's.
    fn write(&mut self, row: Row<'_>) -> Result<(), CaptureError> {
        let at_us = row.t_us;
        let row = Row {
            t_us: at_us.saturating_sub(self.began_us),
            ..row
        };
        self.writer.write(&row)?;
        self.progress.elapsed_us = self.writer.last_us();
        self.progress.answers_per_s = self.rate.per_second(at_us);
        (self.tell)(&row, &self.progress);
        Ok(())
    }
}
