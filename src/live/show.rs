//! What watching a car and replaying a capture have in common: the data, their judgement, what is typed and explained.

use crossterm::event::{Event, KeyCode, KeyEventKind};

use super::{
    judge::{Judge, Judgement},
    key::{Action, KeyContext, action_of},
    model::Model,
    scene::{File, Scene, Source},
    typing::{Purpose, Typing},
};
use crate::{diagnose::Tables, guide::Guidance, vehicle::Vehicle};

/// What a key or a paste amounts to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyRequest {
    /// Something for the loop to do.
    Do(Action),
    /// A text to write as a mark.
    Write(String),
    /// A time to go to, µs since the recording started.
    GoTo(u64),
}

/// The state behind the screen.
#[derive(Debug)]
pub struct Show {
    title: String,
    /// Where it comes from.
    pub source: Source,
    /// Time of the recording, µs since it started, also while nothing comes.
    pub now_us: u64,
    /// Where it is written.
    pub file: Option<File>,
    contexts: Vec<KeyContext>,
    judge: Judge,
    judgement: Judgement,
    /// Version of the model that is judged or being judged.
    judged: Option<u64>,
    typing: Option<Typing>,
    marks: u32,
    help: bool,
}

impl Show {
    /// Nothing recorded yet.
    pub fn new(
        vehicle: Vehicle,
        tables: Tables,
        source: Source,
        contexts: Vec<KeyContext>,
    ) -> Self {
        let title = vehicle.label.clone().unwrap_or_else(|| "car".to_owned());
        Self {
            title,
            source,
            now_us: 0,
            file: None,
            contexts,
            judge: Judge::new(vehicle, tables),
            judgement: Judgement::default(),
            judged: None,
            typing: None,
            marks: 0,
            help: false,
        }
    }

    /// Takes what the terminal reports; a wish is for the loop to fulfil.
    pub fn on_event(&mut self, event: &Event) -> Option<KeyRequest> {
        match event {
            Event::Key(key) if key.kind == KeyEventKind::Release => None,
            Event::Key(key) if self.typing.is_some() => match action_of(key, &[]) {
                // of the keys with Control, which type nothing
                Some(action @ (Action::Leave | Action::Interrupt | Action::Suspend))
                    if !matches!(key.code, KeyCode::Char('q')) =>
                {
                    Some(KeyRequest::Do(action))
                }
                _ => self.type_key(key.code),
            },
            Event::Key(key) => match action_of(key, &self.contexts)? {
                Action::Help => {
                    self.help = !self.help;
                    None
                }
                Action::Mark => self.mark(),
                Action::Time => {
                    self.typing = Some(Typing::begin(Purpose::Time));
                    None
                }
                action => Some(KeyRequest::Do(action)),
            },
            Event::Paste(text) => {
                let typing = self.typing.as_mut()?;
                text.chars().for_each(|letter| typing.add(letter));
                None
            }
            _ => None,
        }
    }

    /// A mark is written at once, so that its time is right; what it is about may follow. Before the car answers there is
    /// no recording that it could stand in.
    fn mark(&mut self) -> Option<KeyRequest> {
        if !matches!(self.source, Source::Car { .. } | Source::Troubled { .. }) {
            return None;
        }
        self.marks += 1;
        self.typing = Some(Typing::begin(Purpose::Mark));
        Some(KeyRequest::Write(format!("mark {}", self.marks)))
    }

    fn type_key(&mut self, code: KeyCode) -> Option<KeyRequest> {
        let typing = self.typing.as_mut()?;
        match code {
            KeyCode::Char(letter) => typing.add(letter),
            KeyCode::Backspace => {
                typing.text.pop();
            }
            KeyCode::Esc => self.typing = None,
            KeyCode::Enter => return self.typed(),
            _ => {}
        }
        None
    }

    /// What was typed is finished; what is no time yet stays, to be typed on.
    fn typed(&mut self) -> Option<KeyRequest> {
        let typing = self.typing.take()?;
        let text = typing.text.trim();
        match typing.purpose {
            _ if text.is_empty() => None,
            Purpose::Mark => Some(KeyRequest::Write(format!("mark {}: {text}", self.marks))),
            Purpose::Time => {
                let request = typing.time_us().map(KeyRequest::GoTo);
                self.typing = request.is_none().then_some(typing);
                request
            }
        }
    }

    /// Takes a judgement that is made, and has the next one made if there is news; whether there is something new to
    /// draw. `model` is what is recorded so far.
    pub fn judge(&mut self, model: Option<&Model>) -> bool {
        let made = self.judge.made();
        let is_new = made.is_some();
        if let Some(judgement) = made {
            self.judgement = judgement;
        }
        if let Some(model) = model
            && self.judge.is_free()
            && self.judged != Some(model.version())
        {
            self.judged = Some(model.version());
            self.judge.give(model.summary());
        }
        is_new
    }

    /// What the whole recording is judged to say, made here and now.
    pub fn last_word(&self, model: &Model) -> Judgement {
        self.judge.whole(model.whole())
    }

    /// Has a frame drawn of what there is now.
    pub fn draw<T>(&self, model: Option<&Model>, drawn: impl FnOnce(&Scene<'_>) -> T) -> T {
        let guidance: Option<Guidance> = model.map(|model| model.run().guidance());
        drawn(&Scene {
            title: &self.title,
            now_us: self.now_us.max(model.map_or(0, Model::t_us)),
            model,
            judgement: &self.judgement,
            source: &self.source,
            file: self.file.as_ref(),
            contexts: &self.contexts,
            typing: self.typing.as_ref(),
            help: self.help,
            guidance: guidance.as_ref(),
            guided: self.contexts.contains(&KeyContext::Guide),
        })
    }
}
