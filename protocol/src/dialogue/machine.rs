//! The state machine: bytes and time-outs in; bytes to send, events and the next deadline out.

use std::collections::VecDeque;

use super::{
    discovery::Discovery,
    event::{Counts, Event, NotReady, RecoveryStep, Stage, Why},
    exchange::{Exchange, PAUSE_US, Verdict},
    phase::Phase,
    recovery::{Ladder, SILENT_CAR, restart_words, trouble_words},
    session::Session,
    setup::{Next, Setup},
    stalled::Stalled,
    turn::{Received, Settings, Transport, TurnEnd},
};
use crate::{
    adapter::{Command, Notice, RawReply, reply},
    bus::address::Address,
    service::request::changes_the_car,
};

/// Requests in a row that the car leaves without an answer before that is reported.
const SILENT_REQUESTS: u32 = 4;

/// A conversation with one adapter.
#[derive(Debug)]
pub struct Dialogue {
    pending_us: u64,
    transport: Transport,
    phase: Phase,
    session: Session,
    ladder: Ladder,
    /// The last command that the adapter is known to have taken may be one that changes something
    /// in the car.
    may_repeat_clear: bool,
    silent_requests: u32,
    stalled: Stalled,
    counts: Counts,
    events: VecDeque<Event>,
}

impl Dialogue {
    /// A dialogue that waits for its port.
    pub fn new(settings: Settings) -> Self {
        Self {
            pending_us: settings.pending_us,
            transport: Transport::new(settings),
            phase: Phase::Closed,
            session: Session::default(),
            ladder: Ladder::default(),
            // what was said last before us is not known
            may_repeat_clear: true,
            silent_requests: 0,
            stalled: Stalled::default(),
            counts: Counts::default(),
            events: VecDeque::new(),
        }
    }

    /// The port is open, for the first time or again: everything but the counts begins anew.
    pub fn handle_opened(&mut self, now_us: u64) {
        self.handle_lost(now_us);
        self.session = Session::default();
        self.ladder = Ladder::default();
        self.silent_requests = 0;
        self.stalled = Stalled::default();
        let setup = Setup::full();
        let next = setup.next();
        self.phase = Phase::Setup(setup);
        self.say_next(now_us, next);
    }

    /// The port is gone. A request in the air ends without an answer.
    pub fn handle_lost(&mut self, now_us: u64) {
        self.transport.cancel();
        if let Some(exchange) = self.phase.take().into_exchange() {
            self.give_up(now_us, &exchange, Why::LinkLost);
        }
    }

    /// Bytes came from the adapter; `now_us` is when the last of them came.
    pub fn handle_bytes(&mut self, now_us: u64, bytes: &[u8]) {
        self.transport.receive(bytes);
        while let Some(received) = self.transport.next_received() {
            match received {
                Received::Reply(command, raw) => {
                    self.may_repeat_clear = changes_the_car(command.request());
                    self.end_turn(now_us, &command, TurnEnd::Reply(raw));
                }
                Received::Unasked(raw) => self.unasked(now_us, &raw),
            }
        }
        self.transport.prolong(now_us);
    }

    /// Time has passed; does nothing before [`Dialogue::next_deadline`].
    pub fn handle_timeout(&mut self, now_us: u64) {
        if let Some((command, received)) = self.transport.end_in_silence(now_us) {
            self.end_turn(now_us, &command, TurnEnd::Silence(received));
        } else if let Phase::Pause(_, until_us) = &self.phase
            && *until_us <= now_us
            && let Phase::Pause(exchange, _) = self.phase.take()
        {
            self.ask(now_us, exchange);
        } else if let Phase::Later(_, _, until_us) = &self.phase
            && *until_us <= now_us
            && let Phase::Later(phase, command, _) = self.phase.take()
        {
            self.phase = *phase;
            self.transport.send(now_us, command);
        }
    }

    /// When [`Dialogue::handle_timeout`] must be called at the latest; nothing is awaited if there
    /// is none.
    pub fn next_deadline(&self) -> Option<u64> {
        match &self.phase {
            Phase::Pause(_, until_us) | Phase::Later(_, _, until_us) => Some(*until_us),
            _ => self.transport.deadline_us(),
        }
    }

    /// Whether only time has to pass before the next step: the adapter owes nothing.
    pub fn is_pausing(&self) -> bool {
        matches!(self.phase, Phase::Pause(..) | Phase::Later(..))
    }

    /// Bytes to send now, if any. All of them go out before the next is asked for.
    pub fn poll_transmit(&mut self) -> Option<Vec<u8>> {
        self.transport.transmit()
    }

    /// What happened, oldest first.
    pub fn poll_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// How far the way to the car has come, from [`Dialogue::handle_opened`] until the connection.
    pub fn stage(&self) -> Option<Stage> {
        self.phase.stage()
    }

    /// Whether a request can be made.
    pub fn is_ready(&self) -> bool {
        matches!(self.phase, Phase::Ready)
    }

    /// What was counted so far.
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Asks the car. `expected_lines` (1 to 15) lets the adapter return without waiting for more:
    /// the [`lines`](super::Answer::lines) of the last answer to the same request.
    ///
    /// # Errors
    /// [`NotReady`] before the connection, while another request is in the air, and during
    /// recovery.
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

    fn ask(&mut self, now_us: u64, mut exchange: Exchange) {
        self.may_repeat_clear |= !exchange.is_repeatable();
        let command = exchange.command(now_us);
        self.transport.send(now_us, command);
        self.phase = Phase::Exchange(exchange);
    }

    fn say_next(&mut self, now_us: u64, next: Next) {
        match next {
            Next::Say(command) => self.transport.send(now_us, command),
            Next::SayLater(command) => {
                let phase = Box::new(self.phase.take());
                self.phase = Phase::Later(phase, command, now_us.saturating_add(PAUSE_US));
            }
            Next::Done | Next::Failed(_) => {}
        }
    }

    fn end_turn(&mut self, now_us: u64, command: &Command, end: TurnEnd) {
        match (self.phase.take(), end) {
            (Phase::Setup(setup), end) => self.on_setup(now_us, setup, end),
            (Phase::Discovery(discovery), end) => self.on_discovery(now_us, discovery, end),
            (Phase::Exchange(exchange), TurnEnd::Reply(raw)) => {
                self.on_exchange(now_us, exchange, command, &raw);
            }
            (Phase::Flush(exchange), TurnEnd::Reply(_)) => self.ask(now_us, exchange),
            (Phase::Exchange(exchange) | Phase::Flush(exchange), TurnEnd::Silence(_)) => {
                self.on_hung(now_us, exchange);
            }
            (Phase::Reinit(setup, exchange), end) => self.on_reinit(now_us, setup, exchange, end),
            (rest @ (Phase::Closed | Phase::Ready | Phase::Pause(..) | Phase::Later(..)), _) => {
                self.phase = rest
            }
        }
    }

    fn on_setup(&mut self, now_us: u64, mut setup: Setup, end: TurnEnd) {
        match setup.on_end(end, &mut self.session) {
            Next::Done => {
                let discovery = Discovery::new(self.session.services);
                self.transport.send(now_us, discovery.command());
                self.phase = Phase::Discovery(discovery);
            }
            Next::Failed(failure) => self.events.push_back(Event::SetupFailed(failure)),
            next => {
                self.phase = Phase::Setup(setup);
                self.say_next(now_us, next);
            }
        }
    }

    fn on_discovery(&mut self, now_us: u64, mut discovery: Discovery, end: TurnEnd) {
        match discovery.on_end(end, &mut self.session) {
            Next::Done => {
                self.phase = Phase::Ready;
                let connection = self.session.connection();
                self.events.push_back(Event::Connected(connection));
            }
            Next::Failed(failure) => self.events.push_back(Event::SetupFailed(failure)),
            next => {
                self.phase = Phase::Discovery(discovery);
                self.say_next(now_us, next);
            }
        }
    }

    fn on_exchange(
        &mut self,
        now_us: u64,
        mut exchange: Exchange,
        command: &Command,
        raw: &RawReply,
    ) {
        let reply = reply::parse(raw, command, self.session.form());
        self.counts.damaged += reply.damage.len() as u64;
        self.counts.strays += reply.strays as u64;
        self.counts.noise += reply.noise as u64;
        let echo_is_off = self.session.echo_is_off();
        let service = exchange.service();
        let patience_us = self.stalled.patience_us(service, &reply, self.pending_us);
        // what changes the car is asked for once only, and never waited for
        let pending = if exchange.is_repeatable() {
            reply.pending.clone()
        } else {
            Vec::new()
        };
        match exchange.on_reply(now_us, reply, echo_is_off, patience_us) {
            Verdict::Answer(answer) => {
                self.counts.answers += 1;
                self.finish(Event::Answer(answer));
                self.note_stalled(service, &pending);
            }
            Verdict::NoAnswer(no_answer) => {
                self.counts.no_answers += 1;
                let why = no_answer.why.clone();
                self.finish(Event::NoAnswer(no_answer));
                self.count_silence(&why);
                self.note_stalled(service, &pending);
            }
            Verdict::WaitOn => {
                self.phase = Phase::Pause(exchange, now_us.saturating_add(PAUSE_US));
            }
            Verdict::Restarted(notice) => self.restarted(now_us, notice.as_ref(), Some(exchange)),
            Verdict::Garbled(why) => self.on_garbled(now_us, exchange, why),
        }
    }

    /// A request is over and the link is well.
    fn finish(&mut self, event: Event) {
        self.phase = Phase::Ready;
        let mut was_trouble = self.ladder.all_is_well();
        if let Event::Answer(answer) = &event {
            was_trouble |= std::mem::take(&mut self.silent_requests) >= SILENT_REQUESTS;
            let service = answer.request.first().copied().unwrap_or_default();
            was_trouble |= self.stalled.answered(service, &answer.messages);
        }
        if was_trouble {
            self.events.push_back(Event::Recovered);
        }
        self.events.push_back(event);
    }

    fn count_silence(&mut self, why: &Why) {
        let Why::Adapter(notice) = why else {
            self.silent_requests = 0;
            return;
        };
        // that no bus answers at all takes the adapter seconds to find out, and says more than one request in vain
        let weight = if *notice == Notice::NoData { 1 } else { 2 };
        let before = self.silent_requests;
        self.silent_requests = before.saturating_add(weight);
        if before < SILENT_REQUESTS && self.silent_requests >= SILENT_REQUESTS {
            let (notice, words) = (notice.clone(), SILENT_CAR.to_owned());
            self.events.push_back(Event::CarSilent { notice, words });
        }
    }

    fn note_stalled(&mut self, service: u8, pending: &[Option<Address>]) {
        if let Some(words) = self.stalled.note(service, pending) {
            self.events.push_back(Event::CarKeepsWaiting { words });
        }
    }

    fn on_garbled(&mut self, now_us: u64, mut exchange: Exchange, why: Why) {
        if !exchange.asked_again && exchange.is_repeatable() {
            exchange.asked_again = true;
            let step = self.ladder.ask_again();
            self.take_step(now_us, step, exchange, Some(&why));
        } else if let Some(step) = self.ladder.bad_request()
            && exchange.is_repeatable()
        {
            self.take_step(now_us, step, exchange, Some(&why));
        } else {
            self.phase = Phase::Ready;
            self.give_up(now_us, &exchange, why);
        }
    }

    fn on_hung(&mut self, now_us: u64, mut exchange: Exchange) {
        if !exchange.is_repeatable() {
            self.give_up(now_us, &exchange, Why::LinkLost);
            self.reinit(now_us, RecoveryStep::SoftReset, None);
            return self.report(RecoveryStep::SoftReset, None);
        }
        exchange.asked_again = true;
        let step = self.ladder.climb();
        self.take_step(now_us, step, exchange, None);
    }

    fn take_step(
        &mut self,
        now_us: u64,
        mut step: RecoveryStep,
        exchange: Exchange,
        why: Option<&Why>,
    ) {
        // a lone line end may make the adapter repeat its last command
        if step == RecoveryStep::Flush && self.may_repeat_clear {
            step = self.ladder.climb();
        }
        self.report(step, why);
        match step {
            RecoveryStep::AskAgain => self.ask(now_us, exchange),
            RecoveryStep::Flush => {
                self.phase = Phase::Flush(exchange);
                self.transport.send(now_us, Command::Flush);
            }
            RecoveryStep::ApplySettings | RecoveryStep::SoftReset => {
                self.reinit(now_us, step, Some(exchange));
            }
            RecoveryStep::Reopen => {
                self.give_up(now_us, &exchange, Why::LinkLost);
                let words = trouble_words(why, step);
                self.events.push_back(Event::NeedReopen { words });
            }
        }
    }

    fn reinit(&mut self, now_us: u64, step: RecoveryStep, exchange: Option<Exchange>) {
        let protocol = self.session.protocol;
        let setup = match step {
            RecoveryStep::SoftReset => Setup::soft_reset(protocol),
            _ => Setup::settings(protocol),
        };
        let next = setup.next();
        self.phase = Phase::Reinit(setup, exchange);
        self.say_next(now_us, next);
    }

    fn on_reinit(
        &mut self,
        now_us: u64,
        mut setup: Setup,
        exchange: Option<Exchange>,
        end: TurnEnd,
    ) {
        match (setup.on_end(end, &mut self.session), exchange) {
            (Next::Done, Some(exchange)) => self.ask(now_us, exchange),
            (Next::Done, None) => {
                self.phase = Phase::Ready;
                self.ladder.all_is_well();
                self.events.push_back(Event::Recovered);
            }
            (Next::Failed(_), Some(exchange)) => self.on_hung(now_us, exchange),
            (Next::Failed(failure), None) => {
                let words = failure.to_string();
                self.events.push_back(Event::NeedReopen { words });
            }
            (next, exchange) => {
                self.phase = Phase::Reinit(setup, exchange);
                self.say_next(now_us, next);
            }
        }
    }

    /// The adapter has started over: makes its settings again. If that happens twice during one
    /// request, something worse is wrong.
    fn restarted(&mut self, now_us: u64, notice: Option<&Notice>, exchange: Option<Exchange>) {
        self.counts.restarts += 1;
        let words = restart_words(notice);
        self.events.push_back(Event::Restarted { words });
        self.ladder.restarted();
        match exchange {
            Some(mut exchange) if exchange.is_repeatable() => {
                if std::mem::replace(&mut exchange.restarted, true) {
                    return self.on_hung(now_us, exchange);
                }
                self.reinit(now_us, RecoveryStep::ApplySettings, Some(exchange));
            }
            exchange => {
                if let Some(exchange) = exchange {
                    self.give_up(now_us, &exchange, Why::LinkLost);
                }
                self.reinit(now_us, RecoveryStep::ApplySettings, None);
            }
        }
    }

    /// A prompt nobody asked for: noise, unless the adapter says that it has started over.
    fn unasked(&mut self, now_us: u64, raw: &RawReply) {
        let notices = reply::words(raw, &Command::Flush);
        let restart = notices.into_iter().find(Notice::is_restart);
        match (self.phase.take(), restart) {
            (Phase::Ready, Some(notice)) => self.restarted(now_us, Some(&notice), None),
            (Phase::Pause(exchange, _), Some(notice)) => {
                self.restarted(now_us, Some(&notice), Some(exchange));
            }
            (phase, _) => {
                self.counts.noise += 1;
                self.phase = phase;
            }
        }
    }

    fn give_up(&mut self, now_us: u64, exchange: &Exchange, why: Why) {
        self.counts.no_answers += 1;
        let no_answer = exchange.no_answer(now_us, why);
        self.events.push_back(Event::NoAnswer(no_answer));
    }

    fn report(&mut self, step: RecoveryStep, why: Option<&Why>) {
        self.counts.recovery_steps += 1;
        let words = trouble_words(why, step);
        self.events.push_back(Event::LinkTrouble { step, words });
    }
}
