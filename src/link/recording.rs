//! Recording: asks what the plan wants and writes every answer down, through all troubles of the link, until it is told
//! to stop. Without a file it only watches.

use std::{cell::RefCell, pin::pin, time::Duration};

use pintle_protocol::{
    dialogue::{Answer, Connection, Event, RecoveryStep},
    service::answer::{self, Answer as Meaning},
};
use tokio::{task::yield_now, time::timeout};

use super::{
    device::LinkKind,
    error::{LinkError, OpenError},
    plan,
    poller::Poller,
    row_sink::{Progress, RowSink},
    session::Session,
};
use crate::{
    capture::{CaptureError, Row, Writer},
    identity::{CarIdentity, Likeness, OtherCar},
};

/// How long a lost adapter is waited for, µs.
const WAIT_FOR_ADAPTER_US: u64 = 120_000_000;

/// Time between two attempts to open it again, µs.
const TRY_EVERY_US: u64 = 1_000_000;

/// How long the request in the air may still take when recording is to stop, in real time.
const GRACE: Duration = Duration::from_millis(500);

/// What the person can do about a device that is gone, and what happens then.
const fn when_gone(kind: LinkKind) -> &'static str {
    match kind {
        LinkKind::Serial => "; plug the adapter in again, and recording continues",
        LinkKind::Network => {
            "; check that the adapter has power and that this computer is on its Wi-Fi, and recording continues"
        }
    }
}

/// Why a recording could not be begun or went no further.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The way to the car.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The car is not the one that it should be.
    #[error(transparent)]
    OtherCar(#[from] OtherCar),
}

/// What the person wants while a recording goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RecordingRequest {
    /// A remark that belongs to this moment.
    Mark(String),
    /// An end.
    Stop,
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

impl Recorded {
    /// Stopped before it began.
    pub(super) const fn nothing() -> Self {
        Self {
            ending: Ending::Stopped,
            length_us: 0,
            answers: 0,
            asked_again: 0,
        }
    }
}

impl Session {
    /// Records until `length_us` is over, a stop is wished, or the adapter is lost for good; without a `writer` nothing is
    /// kept. `requests` is asked for the person's next wish again and again, and may be dropped while it waits. A mark gets
    /// the time at which it is taken, also while a lost adapter is waited for. `tell` gets every row, those that tell of
    /// the link's state among them. The request in the air is brought to its end before this returns, if that takes no
    /// longer than half a second.
    ///
    /// # Errors
    /// When there is no engine controller, or the file cannot be written any more.
    pub async fn record(
        &mut self,
        writer: Option<&mut Writer>,
        length_us: Option<u64>,
        mut requests: impl AsyncFnMut() -> RecordingRequest,
        tell: impl FnMut(&Row<'_>, &Progress),
    ) -> Result<Recorded, RecordError> {
        let is_can = self.connection.protocol.is_can();
        let wanted = plan::recording(self.engine()?, is_can, self.connection.services);
        let clock = self.clock.clone();
        let began_us = clock.now_us();
        let row_sink = RefCell::new(RowSink::begin(writer, tell, began_us));
        let mut recorder = Recorder {
            poller: Poller::new(&wanted, &self.connection, began_us),
            session: self,
            row_sink: &row_sink,
            end_us: length_us.map(|length_us| began_us.saturating_add(length_us)),
            goes_on: true,
            car: CarIdentity::default(),
        };
        let mark = |words: &str| row_sink.borrow_mut().mark(clock.now_us(), words);
        mark("recording starts")?;
        let ending = {
            let mut run = pin!(recorder.run());
            loop {
                tokio::select! {
                    biased;
                    wish = requests() => match wish {
                        RecordingRequest::Mark(words) => mark(&words)?,
                        RecordingRequest::Stop => break Ending::Stopped,
                    },
                    ending = &mut run => break ending?,
                }
            }
        };
        recorder.finish(ending).await
    }
}

/// A recording under way.
struct Recorder<'a, T> {
    session: &'a mut Session,
    poller: Poller,
    /// Shared with the person's marks; borrowed for one row at a time.
    row_sink: &'a RefCell<RowSink<'a, T>>,
    end_us: Option<u64>,
    /// Whether further requests are made.
    goes_on: bool,
    /// Which car it is, as far as it has told.
    car: CarIdentity,
}

impl<T: FnMut(&Row<'_>, &Progress)> Recorder<'_, T> {
    /// Goes on until the end. Dropping the future between any two rows leaves everything in order.
    async fn run(&mut self) -> Result<Ending, RecordError> {
        while !self.is_over() {
            // a wish is heard even when every answer is there already
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
        let due_us = if free && !self.poller.is_asking() {
            self.poller.next_due_us()
        } else {
            None
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
                self.note_vin(&answer);
                // first the next request, so that the line is at work while this answer is written down
                if !self.is_over() {
                    self.ask();
                    self.session.pump.send_now();
                }
                self.row_sink.borrow_mut().answer(&answer)?;
            }
            Event::NoAnswer(no_answer) => {
                self.poller.on_no_answer(&no_answer);
                self.row_sink.borrow_mut().no_answer(&no_answer)?;
            }
            Event::LinkTrouble {
                step: RecoveryStep::AskAgain,
                words,
            } => self.row_sink.borrow_mut().disturbance.asked_again(&words),
            Event::LinkTrouble { words, .. }
            | Event::Restarted { words }
            | Event::CarSilent { words, .. }
            | Event::CarKeepsWaiting { words } => {
                self.row_sink.borrow_mut().trouble(now_us, &words)?
            }
            Event::Recovered | Event::Connected(_) => {
                self.row_sink.borrow_mut().restored(now_us)?
            }
            Event::NeedReopen { words } => return Err(LinkError::Lost(words).into()),
            Event::SetupFailed(failure) => {
                return Err(LinkError::Lost(failure.to_string()).into());
            }
        }
        Ok(())
    }

    fn note_vin(&mut self, answer: &Answer) {
        let engine = self
            .session
            .connection
            .engine()
            .and_then(|engine| engine.address);
        let of_engine = answer
            .messages
            .iter()
            .filter(|message| message.from == engine);
        for message in of_engine {
            if let Ok(Meaning::VehicleIdentificationNumber(number)) =
                answer::decode(&answer.request, &message.payload)
            {
                self.car.take_vin(&number);
            }
        }
    }

    /// Closes the device, and opens it again as soon as it is there; later where it failed again soon after. An ending if it
    /// does not come back, or if time is over before.
    async fn wait_for_adapter(&mut self, words: String) -> Result<Option<Ending>, RecordError> {
        let clock = self.session.clock.clone();
        let device = self.session.device.clone();
        let step = if self.session.pump.close() {
            ""
        } else {
            when_gone(device.kind())
        };
        self.drain()?;
        let lost = format!("{words}{step}");
        let backoff_us = self.row_sink.borrow_mut().lost(clock.now_us(), &lost)?;
        let mut next_us = clock.now_us().saturating_add(backoff_us);
        let mut give_up_us = clock.now_us().saturating_add(WAIT_FOR_ADAPTER_US);
        let mut advised = !step.is_empty();
        let mut told = None;
        while !self.is_over() {
            // a wish is heard even where no time passes
            yield_now().await;
            if clock.now_us() < next_us {
                let until_us = self.end_us.map_or(next_us, |end_us| end_us.min(next_us));
                clock.sleep_until(until_us).await;
                continue;
            }
            match self.reopen().await {
                Ok(true) => {
                    if self.session.device != device {
                        let words = format!("found again as {}", self.session.device);
                        self.row_sink.borrow_mut().trouble(clock.now_us(), &words)?;
                    }
                    self.row_sink.borrow_mut().restored(clock.now_us())?;
                    return Ok(None);
                }
                Ok(false) => continue,
                Err(error) => {
                    let is_away = is_away(&error);
                    if !is_away {
                        // the adapter is there; the car, or the person, may take their time
                        give_up_us = clock.now_us().saturating_add(WAIT_FOR_ADAPTER_US);
                    }
                    // that it is still away is no news
                    if !(is_away && advised) && told.as_ref() != Some(&error) {
                        let words = format!("{error}; {}", error.next_step(device.kind()));
                        self.row_sink.borrow_mut().trouble(clock.now_us(), &words)?;
                        advised = true;
                    }
                    told = Some(error);
                }
            }
            self.session.pump.close();
            if clock.now_us() >= give_up_us {
                return Ok(Some(Ending::Lost(words)));
            }
            next_us = clock.now_us().saturating_add(TRY_EVERY_US);
        }
        Ok(Some(Ending::TimeOver))
    }

    /// Tries once to connect again; `false` when the recording's time was over before.
    async fn reopen(&mut self) -> Result<bool, LinkError> {
        let session = &mut *self.session;
        let found = match &session.device_identity {
            Some(device_identity) => Some(device_identity.find().ok_or(OpenError::Missing)?),
            None => None,
        };
        let device = found.map_or(session.device.clone(), |path| {
            session.device.moved_to(&path)
        });
        session.pump.open(&device, session.baud).await?;
        let Some(connection) = session.pump.connected(self.end_us, |_| ()).await? else {
            return Ok(false);
        };
        let engine = |connection: &Connection| {
            let engine = connection.engine()?;
            Some((engine.address, engine.parameters))
        };
        if engine(&connection) != engine(&session.connection) {
            return Err(LinkError::OtherCar);
        }
        if self.car.vin.is_some() {
            // two cars of one kind differ in nothing else
            let mut here = CarIdentity::default();
            if let Some(number) = session.identification().await? {
                here.take_vin(&number);
            }
            if self.car.compared_with(&here) == Likeness::Different {
                return Err(LinkError::OtherCar);
            }
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
        self.row_sink.borrow_mut().end(now_us, "recording ends")?;
        let row_sink = self.row_sink.borrow();
        Ok(Recorded {
            ending,
            length_us: row_sink.progress.elapsed_us,
            answers: row_sink.progress.answers,
            asked_again: row_sink.disturbance.total,
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
