//! The beginning: reset, settings, identity, voltage, and the search for the car's bus.

use std::collections::VecDeque;

use super::{
    event::{SetupFailure, Stage},
    session::Session,
    turn::TurnEnd,
};
use crate::{
    adapter::{
        Command, Form, Notice, RawReply, Reply,
        command::{FRAMINGS, protocol_of, voltage_of},
        reply,
    },
    bus::{Framing, Protocol},
    service::{Services, identifier::mask_of},
};

/// Settings that make answers short and checkable.
const SETTINGS: [Command; 5] = [
    Command::EchoOff,
    Command::LinefeedsOff,
    Command::SpacesOff,
    Command::HeadersOn,
    Command::AdaptiveTiming,
];

/// How often a reset is said again when it is answered without a banner: the first one may only
/// have stopped something.
const RESETS: u32 = 1;

/// How often a controller that asks to wait is asked again: with the pauses between five seconds,
/// which ISO 14229-2 gives it.
pub(super) const WAITS: u32 = 25;

/// A list of commands being worked through.
#[derive(Debug)]
pub(super) struct Setup {
    todo: VecDeque<Command>,
    /// How often the command at the front was said again.
    repeats: u32,
    /// How often the bus was searched.
    searches: u32,
    /// The services by which it is searched: those of newer cars when the others found nobody.
    services: Services,
    /// What came of the search by the others.
    silent: Option<Notice>,
    /// How often a controller asked to wait.
    waits: u32,
    /// How often the adapter started over in between.
    restarts: u32,
    /// Settings that were taken.
    taken: u32,
    /// The first line that came and was no known word.
    received: Option<String>,
    /// The car's first answer, kept until the bus is known.
    found: RawReply,
}

/// What comes after a turn.
#[derive(Debug)]
pub(super) enum Next {
    /// Say this.
    Say(Command),
    /// Say this after a pause: a controller asked to wait.
    SayLater(Command),
    /// All is done.
    Done,
    /// It cannot be done.
    Failed(SetupFailure),
}

impl Setup {
    /// Everything, for a port that was just opened.
    pub fn full() -> Self {
        let about = [Command::Identify, Command::Voltage];
        let bus = [
            Command::AutomaticProtocol,
            Command::Search(Services::SaeJ1979),
            Command::ProtocolNumber,
        ];
        Self::of(
            [Command::Reset]
                .into_iter()
                .chain(SETTINGS)
                .chain(about)
                .chain(bus),
        )
    }

    /// The settings alone, for an adapter that may have lost them; the bus is the one known before.
    pub fn settings(protocol: Option<Protocol>) -> Self {
        Self::of(SETTINGS.into_iter().chain([same_bus(protocol)]))
    }

    /// A restart of the adapter, then the settings.
    pub fn soft_reset(protocol: Option<Protocol>) -> Self {
        let first = [Command::SoftReset];
        Self::of(
            first
                .into_iter()
                .chain(SETTINGS)
                .chain([same_bus(protocol)]),
        )
    }

    fn of(commands: impl Iterator<Item = Command>) -> Self {
        Self {
            todo: commands.collect(),
            repeats: 0,
            searches: 0,
            services: Services::SaeJ1979,
            silent: None,
            waits: 0,
            restarts: 0,
            taken: 0,
            received: None,
            found: RawReply::default(),
        }
    }

    /// What to say now.
    pub fn next(&self) -> Next {
        self.todo.front().cloned().map_or(Next::Done, Next::Say)
    }

    /// Whether it is still about the adapter, or about the car's bus already.
    pub fn stage(&self) -> Stage {
        match self.todo.front() {
            Some(Command::Search(_) | Command::ProtocolNumber) => Stage::Bus,
            _ => Stage::Adapter,
        }
    }

    /// Takes the end of the turn that [`Setup::next`] began.
    pub fn on_end(&mut self, end: TurnEnd, session: &mut Session) -> Next {
        let Some(command) = self.todo.front().cloned() else {
            return Next::Done;
        };
        match end {
            TurnEnd::Silence(received) => {
                self.listen(&received, &command);
                self.again()
            }
            TurnEnd::Reply(raw) => self.on_reply(&command, raw, session),
        }
    }

    fn on_reply(&mut self, command: &Command, raw: RawReply, session: &mut Session) -> Next {
        let notices = reply::words(&raw, command);
        let may_restart = command.setting().is_some() || matches!(command, Command::Search(_));
        if may_restart && notices.iter().any(Notice::is_restart) {
            return self.start_over();
        }
        match command {
            Command::Search(_) => {
                self.found = raw;
                return self.on_search(&notices, session);
            }
            Command::ProtocolNumber => return self.on_protocol(&notices, session),
            Command::Identify => {
                session.adapter.name = words_of(&notices).or(session.adapter.name.take())
            }
            Command::Voltage => session.voltage = words_of(&notices).and_then(|w| voltage_of(&w)),
            Command::Reset | Command::SoftReset => {
                self.listen(&raw, command);
                session.adapter.name = words_of(&notices);
                if !notices.iter().any(Notice::is_restart) && self.repeats < RESETS {
                    self.repeats += 1;
                    return self.next();
                }
            }
            _ => {
                self.listen(&raw, command);
                self.on_setting(command, &notices, session);
                self.look_for_echo(command, &raw, session);
            }
        }
        self.advance()
    }

    fn on_setting(&mut self, command: &Command, notices: &[Notice], session: &mut Session) {
        if notices.contains(&Notice::Ok) {
            self.taken += 1;
        } else if let Some(setting) = command.setting() {
            session.refused(setting);
        }
    }

    /// An adapter that still sends back what comes after did not take that setting, whatever it said.
    fn look_for_echo(&self, command: &Command, raw: &RawReply, session: &mut Session) {
        if *command != Command::EchoOff
            && reply::is_echoed(raw, command)
            && let Some(setting) = Command::EchoOff.setting()
        {
            session.refused(setting);
        }
    }

    /// Goes on to the next command, unless the device took none of the settings: then it is no
    /// adapter.
    fn advance(&mut self) -> Next {
        let was_setting = self.todo.pop_front().is_some_and(|c| SETTINGS.contains(&c));
        self.repeats = 0;
        let settings_over = !self.todo.front().is_some_and(|c| SETTINGS.contains(c));
        if was_setting && settings_over && self.taken == 0 {
            return Next::Failed(self.silence());
        }
        self.next()
    }

    /// The adapter has lost its settings halfway: makes all of them again, at most twice.
    fn start_over(&mut self) -> Next {
        self.restarts += 1;
        if self.restarts > 2 {
            return Next::Failed(SetupFailure::AdapterRestarts);
        }
        self.todo.retain(|command| !SETTINGS.contains(command));
        if let Some(Command::Search(_)) = self.todo.front() {
            self.todo.push_front(Command::AutomaticProtocol);
        }
        for setting in SETTINGS.into_iter().rev() {
            self.todo.push_front(setting);
        }
        self.next()
    }

    /// Says the same once more, or fails.
    fn again(&mut self) -> Next {
        self.repeats += 1;
        if self.repeats > 1 {
            return Next::Failed(self.silence());
        }
        self.next()
    }

    fn on_search(&mut self, notices: &[Notice], session: &Session) -> Next {
        let Some(notice) = notices.iter().find(|notice| notice.is_silent_car()) else {
            return self.advance();
        };
        let first = self.silent.get_or_insert_with(|| notice.clone()).clone();
        if self.services == Services::SaeJ1979 {
            self.todo.pop_front();
            return self.search_newer();
        }
        Next::Failed(SetupFailure::CarSilent {
            notice: first,
            voltage: session.voltage,
        })
    }

    /// Searches for a car that leaves service 01 without an answer, or refuses it: it may be a newer
    /// one.
    fn search_newer(&mut self) -> Next {
        self.services = Services::Iso14229;
        self.todo.push_front(Command::Search(self.services));
        self.next()
    }

    fn on_protocol(&mut self, notices: &[Notice], session: &mut Session) -> Next {
        let named = words_of(notices).and_then(|words| protocol_of(&words));
        let services = self.services;
        let has_mask = |reply: &Reply| {
            let mut messages = reply.messages.iter();
            messages.any(|message| mask_of(services, 0x01, 0x00, &message.payload).is_some())
        };
        if let Some(form) = form_of(&self.found, named, services, has_mask) {
            // a name that does not fit what was seen on the bus is not believed
            let fits = |named: &Protocol| named.framing() == form.framing;
            let unnamed = Protocol::Unnamed(form.framing);
            session.protocol = Some(named.filter(fits).unwrap_or(unnamed));
            session.form = Some(form);
            session.services = services;
            return self.advance();
        }
        let waits = |reply: &Reply| !reply.pending.is_empty();
        if form_of(&self.found, named, services, waits).is_some() {
            if self.waits >= WAITS {
                return Next::Failed(SetupFailure::CarKeepsWaiting);
            }
            self.waits += 1;
            self.todo.push_front(Command::Search(services));
            return Next::SayLater(Command::Search(services));
        }
        let refused = |reply: &Reply| !reply.refusals.is_empty();
        let is_newer = form_of(&self.found, named, services, refused).is_some();
        if services == Services::SaeJ1979 && is_newer {
            return self.search_newer();
        }
        self.searches += 1;
        if self.searches > 1 {
            return Next::Failed(self.unreadable(session.voltage));
        }
        self.todo.push_front(Command::Search(self.services));
        self.next()
    }

    /// The car's first answer cannot be read: the adapter said why, or it is not known.
    fn unreadable(&self, voltage: Option<f64>) -> SetupFailure {
        let notices = reply::words(&self.found, &Command::Search(self.services));
        let telling = |notice: &Notice| {
            !notice.is_progress() && !matches!(notice, Notice::Unknown(_) | Notice::Ok)
        };
        match notices.into_iter().find(telling) {
            Some(notice) => SetupFailure::CarSilent { notice, voltage },
            None => SetupFailure::AnswerNotReadable {
                line: self.found.lines.first().cloned().unwrap_or_default(),
            },
        }
    }

    fn listen(&mut self, raw: &RawReply, command: &Command) {
        let sent = command.text();
        let other = raw.lines.iter().find(|line| **line != sent);
        if let Some(line) = other.or(raw.lines.first()) {
            self.received.get_or_insert_with(|| line.clone());
        }
    }

    /// What kind of silence it is: nothing, no text, or text of something else.
    fn silence(&self) -> SetupFailure {
        match &self.received {
            _ if self.taken > 0 => SetupFailure::AdapterSilent,
            None => SetupFailure::AdapterSilent,
            Some(received) if received.contains(char::REPLACEMENT_CHARACTER) => {
                SetupFailure::NotReadable
            }
            Some(received) => SetupFailure::NotAnAdapter {
                received: received.clone(),
            },
        }
    }
}

/// The bus that was in use, or the search for it.
fn same_bus(protocol: Option<Protocol>) -> Command {
    match protocol {
        None | Some(Protocol::Unnamed(_)) => Command::AutomaticProtocol,
        Some(protocol) => Command::FixedProtocol(protocol),
    }
}

/// The first words that are not of the adapter's fixed list.
fn words_of(notices: &[Notice]) -> Option<String> {
    notices.iter().find_map(|notice| match notice {
        Notice::Banner(text) | Notice::Unknown(text) => Some(text.clone()),
        _ => None,
    })
}

/// The form in which the car's first answer is readable; what the adapter says about the bus goes
/// first.
fn form_of(
    found: &RawReply,
    protocol: Option<Protocol>,
    services: Services,
    readable: impl Fn(&Reply) -> bool,
) -> Option<Form> {
    let named = protocol.map(Protocol::framing);
    let others = FRAMINGS
        .into_iter()
        .filter(|framing| Some(*framing) != named);
    let framings: Vec<Framing> = named.into_iter().chain(others).collect();
    let forms = [true, false].into_iter().flat_map(|headers| {
        framings.iter().map(move |framing| Form {
            framing: *framing,
            headers,
            full_frames: false,
        })
    });
    let command = Command::Search(services);
    forms
        .into_iter()
        .find(|form| readable(&reply::parse(found, &command, *form)))
}
