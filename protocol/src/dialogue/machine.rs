//! The state machine: bytes and time-outs in; bytes to send, events and the next deadline out.

use std::collections::VecDeque;

use super::{
    discovery::Discovery,
    event::{Event, RecoveryStep, Why},
    exchange::{Exchange, PAUSE_US, Verdict},
    recovery::{Ladder, restart_words, trouble_words},
    session::Session,
    setup::{Next, Setup},
    turn::{Settings, Turn, TurnEnd},
};
use crate::adapter::{Command, Notice, PromptReader, RawReply, reply};

/// A conversation with one adapter.
#[derive(Debug)]
pub struct Dialogue {
    settings: Settings,
    session: Session,
    ladder: Ladder,
    reader: PromptReader,
    phase: Phase,
    turn: Option<Turn>,
    to_send: Option<Vec<u8>>,
    events: VecDeque<Event>,
}

/// A request was made while the dialogue was not ready for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the adapter is not ready for a request")]
pub struct NotReady;

/// What the conversation is about at the moment.
#[derive(Debug)]
enum Phase {
    /// No port, or a port that is of no use any more.
    Closed,
    /// The beginning.
    Setup(Setup),
    /// Who is there.
    Discovery(Discovery),
    /// Waiting for a request.
    Ready,
    /// A request.
    Exchange(Exchange),
    /// A controller asked to wait; the request is made again at the time given.
    Pause(Exchange, u64),
    /// A lone line end, before a request is made again.
    Flush(Exchange),
    /// Settings are made again, perhaps before a request is made again.
    Mend(Setup, Option<Exchange>),
}

impl Dialogue {
    /// A dialogue that waits for its port.
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            session: Session::default(),
            ladder: Ladder::default(),
            reader: PromptReader::default(),
            phase: Phase::Closed,
            turn: None,
            to_send: None,
            events: VecDeque::new(),
        }
    }

    /// The port is open, for the first time or again: everything begins anew.
    pub fn handle_opened(&mut self, now_us: u64) {
        self.handle_lost(now_us);
        self.session = Session::default();
        self.ladder = Ladder::default();
        self.start_setup(now_us, Setup::full());
    }

    /// The port is gone. A request in the air ends without an answer.
    pub fn handle_lost(&mut self, now_us: u64) {
        self.turn = None;
        self.to_send = None;
        self.reader.clear();
        match std::mem::replace(&mut self.phase, Phase::Closed) {
            Phase::Exchange(exchange)
            | Phase::Pause(exchange, _)
            | Phase::Flush(exchange)
            | Phase::Mend(_, Some(exchange)) => self.give_up(now_us, &exchange, Why::LinkLost),
            _ => {}
        }
    }

    /// Bytes came from the adapter; `now_us` is when the last of them came.
    pub fn handle_bytes(&mut self, now_us: u64, bytes: &[u8]) {
        self.reader.push(bytes);
        while let Some(raw) = self.reader.next_reply() {
            // a prompt that came before we spoke answers nothing
            let spoken = self.to_send.is_none();
            match self.turn.take_if(|_| spoken) {
                Some(turn) => self.end_turn(now_us, turn, TurnEnd::Reply(raw)),
                None => self.unasked(now_us, &raw),
            }
        }
        if let Some(turn) = &mut self.turn {
            turn.prolong(now_us, &self.reader, &self.settings);
        }
    }

    /// Time has passed; does nothing before [`Dialogue::next_deadline`].
    pub fn handle_timeout(&mut self, now_us: u64) {
        if let Some(turn) = self.turn.take_if(|turn| turn.deadline_us <= now_us) {
            self.to_send = None;
            let heard = self.reader.partial();
            self.reader.clear();
            self.end_turn(now_us, turn, TurnEnd::Silence(heard));
        }
        if let Phase::Pause(_, until_us) = &self.phase
            && *until_us <= now_us
            && let Phase::Pause(exchange, _) = std::mem::replace(&mut self.phase, Phase::Closed)
        {
            self.ask(now_us, exchange);
        }
    }

    /// When [`Dialogue::handle_timeout`] must be called at the latest; nothing is awaited if there is none.
    pub fn next_deadline(&self) -> Option<u64> {
        match (&self.turn, &self.phase) {
            (Some(turn), _) => Some(turn.deadline_us),
            (None, Phase::Pause(_, until_us)) => Some(*until_us),
            _ => None,
        }
    }

    /// Bytes to send now, if any. All of them go out before the next is asked for.
    pub fn poll_transmit(&mut self) -> Option<Vec<u8>> {
        let bytes = self.to_send.take()?;
        // what came before we spoke is no part of the reply
        self.reader.clear();
        Some(bytes)
    }

    /// What happened, oldest first.
    pub fn poll_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// Whether a request can be made.
    pub fn is_ready(&self) -> bool {
        matches!(self.phase, Phase::Ready)
    }

    /// Asks the car. `expected_lines` (1 to 15) lets the adapter return without waiting for more: the
    /// [`lines`](super::Answer::lines) of the last answer to the same request.
    ///
    /// # Errors
    /// [`NotReady`] before the connection, while another request is in the air, and during recovery.
    pub fn request(
        &mut self,
        now_us: u64,
        bytes: &[u8],
        expected_lines: Option<u8>,
    ) -> Result<(), NotReady> {
        if !self.is_ready() || bytes.is_empty() {
            return Err(NotReady);
        }
        self.ask(now_us, Exchange::new(bytes.to_vec(), expected_lines));
        Ok(())
    }

    fn say(&mut self, now_us: u64, command: Command) {
        self.to_send = Some(command.bytes());
        self.turn = Some(Turn::new(command, now_us, &self.settings));
    }

    fn ask(&mut self, now_us: u64, mut exchange: Exchange) {
        let command = exchange.command(now_us);
        self.say(now_us, command);
        self.phase = Phase::Exchange(exchange);
    }

    fn start_setup(&mut self, now_us: u64, setup: Setup) {
        let next = setup.next();
        self.phase = Phase::Setup(setup);
        if let Next::Say(command) = next {
            self.say(now_us, command);
        }
    }

    fn start_mending(&mut self, now_us: u64, setup: Setup, exchange: Option<Exchange>) {
        let next = setup.next();
        self.phase = Phase::Mend(setup, exchange);
        if let Next::Say(command) = next {
            self.say(now_us, command);
        }
    }

    fn end_turn(&mut self, now_us: u64, turn: Turn, end: TurnEnd) {
        match std::mem::replace(&mut self.phase, Phase::Closed) {
            Phase::Setup(setup) => self.on_setup(now_us, setup, end),
            Phase::Discovery(discovery) => self.on_discovery(now_us, discovery, end),
            Phase::Exchange(exchange) => self.on_exchange(now_us, exchange, &turn.command, &end),
            Phase::Flush(exchange) => match end {
                TurnEnd::Reply(_) => self.ask(now_us, exchange),
                TurnEnd::Silence(_) => self.climb(now_us, exchange, None),
            },
            Phase::Mend(setup, exchange) => self.on_mend(now_us, setup, exchange, end),
            other @ (Phase::Closed | Phase::Ready | Phase::Pause(..)) => self.phase = other,
        }
    }

    fn on_setup(&mut self, now_us: u64, mut setup: Setup, end: TurnEnd) {
        match setup.on_end(end, &mut self.session) {
            Next::Say(command) => {
                self.phase = Phase::Setup(setup);
                self.say(now_us, command);
            }
            Next::Done => {
                let discovery = Discovery::new();
                let command = discovery.command();
                self.phase = Phase::Discovery(discovery);
                self.say(now_us, command);
            }
            Next::Failed(failure) => self.events.push_back(Event::SetupFailed(failure)),
        }
    }

    fn on_discovery(&mut self, now_us: u64, mut discovery: Discovery, end: TurnEnd) {
        match discovery.on_end(end, &mut self.session) {
            Next::Say(command) => {
                self.phase = Phase::Discovery(discovery);
                self.say(now_us, command);
            }
            Next::Done => {
                self.phase = Phase::Ready;
                let connection = self.session.connection();
                self.events.push_back(Event::Connected(connection));
            }
            Next::Failed(failure) => self.events.push_back(Event::SetupFailed(failure)),
        }
    }

    fn on_exchange(
        &mut self,
        now_us: u64,
        mut exchange: Exchange,
        command: &Command,
        end: &TurnEnd,
    ) {
        let form = self.session.form();
        match exchange.on_end(now_us, end, command, form, self.settings.pending_us) {
            Verdict::Answer(answer) => self.finish(Event::Answer(answer)),
            Verdict::NoAnswer(no_answer) => self.finish(Event::NoAnswer(no_answer)),
            Verdict::WaitOn => {
                self.phase = Phase::Pause(exchange, now_us.saturating_add(PAUSE_US));
            }
            Verdict::Restarted(notice) => self.restarted(now_us, &notice, Some(exchange)),
            Verdict::Garbled(why) => self.on_garbled(now_us, exchange, why),
            Verdict::Hung => self.climb(now_us, exchange, None),
        }
    }

    /// A request is over and the link is well.
    fn finish(&mut self, event: Event) {
        self.phase = Phase::Ready;
        if self.ladder.all_is_well() {
            self.events.push_back(Event::Recovered);
        }
        self.events.push_back(event);
    }

    fn on_garbled(&mut self, now_us: u64, mut exchange: Exchange, why: Why) {
        if !exchange.asked_again {
            exchange.asked_again = true;
            let step = self.ladder.ask_again();
            self.report(step, Some(&why));
            self.ask(now_us, exchange);
        } else if let Some(step) = self.ladder.bad_request() {
            self.take_step(now_us, step, exchange, Some(&why));
        } else {
            self.phase = Phase::Ready;
            self.give_up(now_us, &exchange, why);
        }
    }

    fn climb(&mut self, now_us: u64, mut exchange: Exchange, why: Option<&Why>) {
        exchange.asked_again = true;
        let step = self.ladder.climb();
        self.take_step(now_us, step, exchange, why);
    }

    fn take_step(
        &mut self,
        now_us: u64,
        step: RecoveryStep,
        exchange: Exchange,
        why: Option<&Why>,
    ) {
        let protocol = self.session.protocol;
        match step {
            RecoveryStep::Reopen => {
                self.give_up(now_us, &exchange, Why::LinkLost);
                let words = trouble_words(why, step);
                self.events.push_back(Event::NeedReopen { words });
                return;
            }
            RecoveryStep::AskAgain => self.ask(now_us, exchange),
            RecoveryStep::Flush => {
                self.phase = Phase::Flush(exchange);
                self.say(now_us, Command::Flush);
            }
            RecoveryStep::ApplySettings => {
                self.start_mending(now_us, Setup::settings(protocol), Some(exchange));
            }
            RecoveryStep::SoftReset => {
                self.start_mending(now_us, Setup::soft_reset(protocol), Some(exchange));
            }
        }
        self.report(step, why);
    }

    fn on_mend(&mut self, now_us: u64, mut setup: Setup, exchange: Option<Exchange>, end: TurnEnd) {
        match (setup.on_end(end, &mut self.session), exchange) {
            (Next::Say(command), exchange) => {
                self.phase = Phase::Mend(setup, exchange);
                self.say(now_us, command);
            }
            (Next::Done, Some(exchange)) => self.ask(now_us, exchange),
            (Next::Failed(_), Some(exchange)) => self.climb(now_us, exchange, None),
            (Next::Done, None) => self.phase = Phase::Ready,
            (Next::Failed(failure), None) => {
                let words = failure.to_string();
                self.events.push_back(Event::NeedReopen { words });
            }
        }
    }

    fn restarted(&mut self, now_us: u64, notice: &Notice, exchange: Option<Exchange>) {
        let words = restart_words(notice);
        self.events.push_back(Event::Restarted { words });
        let setup = Setup::settings(self.session.protocol);
        self.start_mending(now_us, setup, exchange);
    }

    /// A prompt nobody asked for: noise, unless the adapter says that it has started over.
    fn unasked(&mut self, now_us: u64, raw: &RawReply) {
        let notices = reply::words(raw, &Command::Flush);
        let restart = notices.into_iter().find(Notice::is_restart);
        if let (Some(notice), Phase::Ready) = (restart, &self.phase) {
            self.restarted(now_us, &notice, None);
        }
    }

    fn give_up(&mut self, now_us: u64, exchange: &Exchange, why: Why) {
        let no_answer = exchange.no_answer(now_us, why);
        self.events.push_back(Event::NoAnswer(no_answer));
    }

    fn report(&mut self, step: RecoveryStep, why: Option<&Why>) {
        let words = trouble_words(why, step);
        self.events.push_back(Event::LinkTrouble { step, words });
    }
}
