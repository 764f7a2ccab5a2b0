//! The screen at a car.

use std::{io, path::PathBuf, time::Instant};

use super::{
    FRAME,
    input::Input,
    key::{Action, KeyContext},
    model::Model,
    scene::{File, Source},
    show::{KeyRequest, Show},
    signals::Signals,
    terminal::Screen,
    theme::Theme,
    view,
};
use crate::{
    diagnose::{Diagnosis, Tables},
    identity::CarIdentity,
    link::{Connected, Feed, FeedConfig, FeedEvent, LinkKind, RecordError, Recorded},
    series::summary::Summary,
};

/// What the person wants to see besides the recording itself.
#[derive(Debug)]
pub struct Wanted {
    /// Captures from before the work, whose driving is to be repeated.
    pub before: Vec<Summary>,
    /// Whether to guide step by step.
    pub guided: bool,
    /// With colours or without.
    pub theme: Theme,
}

/// How watching ended.
#[derive(Debug)]
pub struct Watched {
    /// What became of the recording.
    pub recorded: Result<Recorded, RecordError>,
    /// Where it is kept, if it is.
    pub capture: Option<PathBuf>,
    /// Why it may not be the expected car, in sentences.
    pub doubts: Vec<String>,
    /// The finding; `None` when no car ever answered.
    pub diagnosis: Option<Diagnosis>,
    /// Of a guided run: whether enough data was recorded, and if not, which steps are missing.
    pub standing: Option<String>,
    /// The car, as far as it identified itself.
    pub car: CarIdentity,
    /// How many readings cannot be true and were left out.
    pub left_out: u64,
    /// Whether a signal or Ctrl-C ended it, and not the key that ends it.
    pub interrupted: bool,
}

/// Watches a car until the person quits, the time is over, or the link cannot be restored.
///
/// # Errors
/// When there is no terminal for the screen; a recording that had begun is complete all the same.
pub fn watch(config: FeedConfig, tables: Tables, wanted: Wanted) -> io::Result<Watched> {
    let signals = Signals::listen()?;
    let mut screen = Screen::open()?;
    let mut contexts = vec![KeyContext::Car];
    contexts.extend(wanted.guided.then_some(KeyContext::Guide));
    let seeking = Source::Seeking {
        stage: "looking for the adapter".to_owned(),
    };
    let show = Show::new(
        config.vehicle.clone().unwrap_or_default(),
        tables,
        seeking,
        contexts,
    );
    let watch = Watch {
        show,
        kind: config.target.kind(),
        model: None,
        input: Input::listen(),
        before: wanted.before,
        guided: wanted.guided,
        feed: Feed::start(config)?,
        capture: None,
        doubts: Vec::new(),
        ended: None,
        interrupted: false,
    };
    watch.run(&mut screen, &signals, wanted.theme)
}

struct Watch {
    show: Show,
    /// How the adapter is reached.
    kind: LinkKind,
    /// What is recorded so far; nothing before the car answers.
    model: Option<Model>,
    input: Input,
    before: Vec<Summary>,
    guided: bool,
    feed: Feed,
    capture: Option<PathBuf>,
    doubts: Vec<String>,
    ended: Option<Result<Recorded, RecordError>>,
    interrupted: bool,
}

impl Watch {
    fn run(mut self, screen: &mut Screen, signals: &Signals, theme: Theme) -> io::Result<Watched> {
        let mut next = Instant::now();
        loop {
            self.take_news();
            if let Some(recorded) = self.ended.take() {
                let last_word = self.model.as_ref().map(|model| self.show.last_word(model));
                return Ok(Watched {
                    recorded,
                    capture: self.capture.take(),
                    doubts: std::mem::take(&mut self.doubts),
                    car: last_word
                        .as_ref()
                        .map(|word| word.summary.facts.car.clone())
                        .unwrap_or_default(),
                    left_out: last_word.as_ref().map_or(0, |word| word.summary.left_out()),
                    diagnosis: last_word.map(|word| word.diagnosis),
                    standing: self.standing(),
                    interrupted: self.interrupted || signals.end(),
                });
            }
            self.show.judge(self.model.as_ref());
            self.show.draw(self.model.as_ref(), |scene| {
                screen.draw(|frame| view::draw(frame, scene, theme))
            })?;
            if signals.end() {
                self.feed.handle().stop();
            }
            if signals.woken() {
                screen.renew()?;
            }
            next = (next + FRAME).max(Instant::now());
            while let Some(event) = self
                .input
                .next(next.saturating_duration_since(Instant::now()))?
            {
                match self.show.on_event(&event) {
                    Some(KeyRequest::Write(words)) => self.feed.handle().mark(&words),
                    Some(KeyRequest::Do(action)) => self.act(action, screen)?,
                    Some(KeyRequest::GoTo(_)) | None => {}
                }
            }
        }
    }

    fn standing(&self) -> Option<String> {
        let model = self.model.as_ref().filter(|_| self.guided)?;
        Some(model.run().guidance().standing())
    }

    fn act(&mut self, action: Action, screen: &mut Screen) -> io::Result<()> {
        let run = self.model.as_mut().map(Model::run_mut);
        match (action, run) {
            (Action::Leave, _) => self.feed.handle().stop(),
            (Action::Interrupt, _) => {
                self.interrupted = true;
                self.feed.handle().stop();
            }
            (Action::Suspend, _) => {
                self.feed.handle().mark("screen suspended");
                screen.suspend()?;
            }
            (Action::Skip, Some(run)) => run.skip(),
            (Action::Repeat, Some(run)) => run.repeat(),
            (Action::Back, Some(run)) => run.back(),
            _ => {}
        }
        Ok(())
    }

    fn take_news(&mut self) {
        // the channel is emptied first: the news are taken by what holds it
        let events: Vec<FeedEvent> = self.feed.events().collect();
        for event in events {
            self.take(event);
        }
    }

    fn take(&mut self, event: FeedEvent) {
        match event {
            FeedEvent::Connecting(stage) => self.show.source = Source::Seeking { stage },
            FeedEvent::Failed(error) => {
                self.show.source = Source::Refused {
                    words: error.to_string(),
                    next_step: error.next_step(self.kind),
                };
            }
            FeedEvent::Connected(connected) => self.begin(*connected),
            FeedEvent::Row(row) => {
                if let Some(model) = &mut self.model {
                    model.take(&row.as_row());
                }
            }
            FeedEvent::Progress { progress, on_disk } => {
                self.show.now_us = progress.elapsed_us;
                self.show.source = match progress.trouble {
                    Some(words) => Source::Troubled { words },
                    None => Source::Car {
                        answers_per_s: progress.answers_per_s,
                    },
                };
                if let (Some(file), Some(on_disk)) = (&mut self.show.file, on_disk) {
                    file.bytes = on_disk.bytes;
                    file.flushed_s_ago = on_disk.age.as_secs_f64();
                }
            }
            FeedEvent::Kept(path) => self.capture = Some(path),
            FeedEvent::Ended(recorded) => self.ended = Some(recorded),
        }
    }

    fn begin(&mut self, connected: Connected) {
        let mut model = Model::new(&connected.header, &self.before);
        for doubt in &connected.doubts {
            model.remark(doubt);
        }
        self.model = Some(model);
        self.doubts = connected.doubts;
        let name = connected
            .capture
            .as_deref()
            .and_then(|path| path.file_name());
        self.show.file = name.map(|name| File {
            name: name.to_string_lossy().into_owned(),
            bytes: 0,
            flushed_s_ago: 0.0,
        });
        self.capture = connected.capture;
        self.show.source = Source::Car { answers_per_s: 0.0 };
    }
}
