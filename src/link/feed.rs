//! A recording on a thread of its own, for a screen that looks once a frame at what has happened since.
//!
//! Nothing here waits for the screen, and the screen for nothing here. News goes through a channel without an end, so that
//! the line to the car is never idle because a terminal is slow.

use std::{
    cell::RefCell,
    io,
    path::PathBuf,
    pin::pin,
    sync::mpsc::{Receiver, Sender, channel},
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use tokio::{
    runtime,
    sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel},
    time,
};

use super::{
    device::Target,
    error::LinkError,
    meeting::Expected,
    recording::{RecordError, Recorded, RecordingRequest},
    row_sink::Progress,
    session::Session,
};
use crate::{
    capture::{Gauge, Header, OnDisk, OwnedRow, Writer},
    clock::Clock,
    trace,
    vehicle::Vehicle,
};

/// Time between two attempts to connect. It is the person at the car who is waited for, so it is real time always.
const TRY_EVERY: Duration = Duration::from_secs(2);

/// How often is told how the recording goes on, whether or not anything happens.
const TELL_EVERY: Duration = Duration::from_millis(250);

/// What is to be recorded, and where from.
#[derive(Debug)]
pub struct FeedConfig {
    /// Where the adapter is.
    pub target: Target,
    /// The clock that the recording goes by.
    pub clock: Clock,
    /// With simulated time: so much faster than the clock on the wall at most; without it, as fast as it can.
    pub pace: Option<u32>,
    /// Where all that goes over the line is kept, if anywhere.
    pub trace: Option<trace::Writer>,
    /// Names for the capture, best first; without any, nothing is kept.
    pub names: Vec<PathBuf>,
    /// The vehicle to keep with the data.
    pub vehicle: Option<Vehicle>,
    /// Which car it should be.
    pub expected: Expected,
    /// How long to record, in µs; without it, until told to stop.
    pub length_us: Option<u64>,
}

/// What has happened.
#[derive(Debug)]
pub enum FeedEvent {
    /// The way to the car has come so far, in words.
    Connecting(String),
    /// There is no connection yet; it is tried again. The error knows what the person can do.
    Failed(LinkError),
    /// The car answers, and recording begins.
    Connected(Box<Connected>),
    /// A row, also of the link's state and of marks.
    Row(OwnedRow),
    /// How the recording goes on, several times a second.
    Progress {
        /// How it goes on; the time goes on also while nothing comes.
        progress: Progress,
        /// How much of it is safe, if it is kept.
        on_disk: Option<OnDisk>,
    },
    /// The capture is complete, under this name.
    Kept(PathBuf),
    /// It is over, and nothing comes after this. One that was stopped before the car answered has no length and no file.
    Ended(Result<Recorded, RecordError>),
}

/// What is known when recording begins.
#[derive(Debug)]
pub struct Connected {
    /// The header of the capture, also when none is kept.
    pub header: Header,
    /// Where the capture is, if it is kept.
    pub capture: Option<PathBuf>,
    /// What leaves a doubt whether it is the car that it should be, in sentences.
    pub doubts: Vec<String>,
}

/// A recording under way on another thread. Dropping it stops the recording and waits until the capture is complete.
#[derive(Debug)]
pub struct Feed {
    events: Receiver<FeedEvent>,
    handle: FeedHandle,
    thread: Option<JoinHandle<()>>,
}

/// Tells a recording what the person wants.
#[derive(Debug, Clone)]
pub struct FeedHandle(UnboundedSender<RecordingRequest>);

impl Feed {
    /// Begins to look for the adapter, then for the car, and records as soon as it answers. Where waiting can help, it is
    /// tried until it works.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(config: FeedConfig) -> io::Result<Self> {
        let runtime = runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        let (tell, events) = channel();
        let (handle, mut requests) = unbounded_channel();
        let thread = thread::Builder::new()
            .name("recording".to_owned())
            .spawn(move || {
                let ended = runtime.block_on(follow(&config, &mut requests, &tell));
                // a look-up of a host's name may still be going on; nobody waits for it any more
                runtime.shutdown_background();
                inform(&tell, FeedEvent::Ended(ended));
            })?;
        Ok(Self {
            events,
            handle: FeedHandle(handle),
            thread: Some(thread),
        })
    }

    /// What has happened since it was last asked for; never waits.
    pub fn events(&self) -> impl Iterator<Item = FeedEvent> {
        self.events.try_iter()
    }

    /// The way to tell it something, also from other threads.
    pub const fn handle(&self) -> &FeedHandle {
        &self.handle
    }
}

impl Drop for Feed {
    fn drop(&mut self) {
        self.handle.stop();
        if let Some(thread) = self.thread.take() {
            // A thread of ours does not panic; if it did, what it wrote is on disk all the same.
            let _ = thread.join();
        }
    }
}

impl FeedHandle {
    /// A remark that belongs to this moment. Before the car answers there is nothing that it could belong to.
    pub fn mark(&self, words: &str) {
        self.request(RecordingRequest::Mark(words.to_owned()));
    }

    /// Ends the recording in good order, or the attempts to connect.
    pub fn stop(&self) {
        self.request(RecordingRequest::Stop);
    }

    fn request(&self, request: RecordingRequest) {
        // A recording that is over wants no more wishes.
        let _ = self.0.send(request);
    }
}

/// Tells the screen; one that is gone is told nothing, and the recording goes on.
fn inform(tell: &Sender<FeedEvent>, event: FeedEvent) {
    let _ = tell.send(event);
}

/// Connects and records.
async fn follow(
    config: &FeedConfig,
    requests: &mut UnboundedReceiver<RecordingRequest>,
    tell: &Sender<FeedEvent>,
) -> Result<Recorded, RecordError> {
    let (mut session, doubts) = tokio::select! {
        biased;
        () = stopped(requests) => return Ok(Recorded::nothing()),
        connected = connect(config, tell) => connected?,
    };
    let header = session.header(config.vehicle.clone());
    let created = match config.names.as_slice() {
        [] => None,
        names => Some(Writer::create_first(names, &header)?),
    };
    let (capture, mut writer) = created.unzip();
    let connected = Connected {
        header,
        capture: capture.map(ToOwned::to_owned),
        doubts,
    };
    inform(tell, FeedEvent::Connected(Box::new(connected)));
    let recorded = record(&mut session, config, writer.as_mut(), requests, tell).await;
    if let Some(writer) = writer {
        inform(tell, FeedEvent::Kept(writer.finish()?));
    }
    recorded
}

/// Waits for the wish to stop, while there is nothing to mark.
async fn stopped(requests: &mut UnboundedReceiver<RecordingRequest>) {
    while let Some(RecordingRequest::Mark(_)) = requests.recv().await {}
}

/// Tries to connect until it works, or until waiting cannot help; gives what leaves a doubt about the car, too.
async fn connect(
    config: &FeedConfig,
    tell: &Sender<FeedEvent>,
) -> Result<(Session, Vec<String>), RecordError> {
    loop {
        match attempt(config, tell).await {
            Err(RecordError::Link(error)) if error.may_pass() => {
                inform(tell, FeedEvent::Failed(error))
            }
            outcome => return outcome,
        }
        time::sleep(TRY_EVERY).await;
    }
}

async fn attempt(
    config: &FeedConfig,
    tell: &Sender<FeedEvent>,
) -> Result<(Session, Vec<String>), RecordError> {
    let device = config.target.find().map_err(LinkError::from)?;
    let (clock, trace) = (config.clock.clone(), config.trace.clone());
    let name = device.to_string();
    let mut session = Session::connect_traced(device, clock, trace, |stage| {
        inform(tell, FeedEvent::Connecting(format!("{name}: {stage}")));
    })
    .await?;
    session.engine()?;
    let doubts = session.meet(&config.expected).await?;
    Ok((session, doubts))
}

async fn record(
    session: &mut Session,
    config: &FeedConfig,
    writer: Option<&mut Writer>,
    requests: &mut UnboundedReceiver<RecordingRequest>,
    tell: &Sender<FeedEvent>,
) -> Result<Recorded, RecordError> {
    let gauge = writer.as_ref().map(|writer| writer.gauge());
    let clock = session.clock().clone();
    let began_us = clock.now_us();
    let latest = RefCell::new(None);
    let began = Instant::now();
    let mut recording = pin!(session.record(
        writer,
        config.length_us,
        async || requests.recv().await.unwrap_or(RecordingRequest::Stop),
        |row, progress| {
            inform(tell, FeedEvent::Row(row.into()));
            latest.replace(Some(progress.clone()));
            if let Some(pace) = config.pace {
                // the recorder has nothing else to do meanwhile: it may be held up
                let due = Duration::from_micros(progress.elapsed_us) / pace;
                thread::sleep(due.saturating_sub(began.elapsed()));
            }
        },
    ));
    let mut ticks = time::interval(TELL_EVERY);
    loop {
        tokio::select! {
            biased;
            recorded = &mut recording => {
                tell_progress(latest.take(), gauge.as_ref(), tell);
                return recorded;
            }
            _ = ticks.tick() => {
                let elapsed_us = clock.now_us().saturating_sub(began_us);
                let progress = latest.borrow().clone();
                let progress = progress.map(|progress: Progress| Progress { elapsed_us, ..progress });
                tell_progress(progress, gauge.as_ref(), tell);
            }
        }
    }
}

fn tell_progress(progress: Option<Progress>, gauge: Option<&Gauge>, tell: &Sender<FeedEvent>) {
    if let Some(progress) = progress {
        let on_disk = gauge.map(Gauge::read);
        inform(tell, FeedEvent::Progress { progress, on_disk });
    }
}
