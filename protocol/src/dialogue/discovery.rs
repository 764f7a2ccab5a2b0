//! Who is there and what each supports: the masks of services 01, 06 and 09, or of the identifiers of
//! newer cars that take their place.
//!
//! Where both are answered, those are used in which engine speed is found, the services of SAE J1979
//! first: one request asks more there.

use super::{
    event::{Controller, SetupFailure},
    session::Session,
    setup::{Next, WAITS},
    turn::TurnEnd,
};
use crate::{
    adapter::{Command, Notice, Reply, reply},
    service::{
        Services,
        identifier::{mask_of, mask_request},
    },
};

/// How often a mask is asked for again when its answer is damaged or does not come.
const REPEATS: u32 = 2;

/// Which mask is being asked for.
#[derive(Debug)]
pub(super) struct Discovery {
    services: Services,
    /// The service of SAE J1979 whose items are asked for.
    service: u8,
    base: u8,
    repeats: u32,
    /// How often controllers asked to wait for this mask.
    waits: u32,
    /// No CAN frame so far was shorter than eight bytes.
    full_frames: bool,
    tried_newer: bool,
    /// Controllers that answer service 01 but no engine's, while a newer one is looked for.
    set_aside: Vec<Controller>,
}

impl Discovery {
    /// A discovery by the services that the car was found by.
    pub fn new(services: Services) -> Self {
        Self {
            services,
            service: 0x01,
            base: 0x00,
            repeats: 0,
            waits: 0,
            full_frames: true,
            tried_newer: false,
            set_aside: Vec::new(),
        }
    }

    /// What to say now.
    pub fn command(&self) -> Command {
        Command::Request {
            bytes: mask_request(self.services, self.service, self.base),
            expected_lines: None,
        }
    }

    /// Takes the end of the turn that [`Discovery::command`] began.
    pub fn on_end(&mut self, end: TurnEnd, session: &mut Session) -> Next {
        let raw = match end {
            TurnEnd::Reply(raw) => raw,
            TurnEnd::Silence(_) => {
                return self
                    .again()
                    .unwrap_or(Next::Failed(SetupFailure::AdapterSilent));
            }
        };
        let reply = reply::parse(&raw, &self.command(), session.form());
        self.take_masks(&reply, session);
        if !reply.pending.is_empty() && self.waits < WAITS {
            self.waits += 1;
            return Next::SayLater(self.command());
        }
        if !reply.damage.is_empty()
            && let Some(next) = self.again()
        {
            return next;
        }
        if !session.has_controllers() && self.set_aside.is_empty() {
            if !reply.pending.is_empty() {
                return Next::Failed(SetupFailure::CarKeepsWaiting);
            }
            let notice = reply.notices.into_iter().find(Notice::is_silent_car);
            return Next::Failed(SetupFailure::CarSilent {
                notice: notice.unwrap_or(Notice::NoData),
                voltage: session.voltage,
            });
        }
        self.go_on(session)
    }

    fn take_masks(&mut self, reply: &Reply, session: &mut Session) {
        self.full_frames &= reply.short_frames == 0;
        for message in &reply.messages {
            let mask = mask_of(self.services, self.service, self.base, &message.payload);
            if let Some(mask) = mask {
                session.add_mask(message.from, self.service, self.base, mask);
            }
        }
    }

    fn again(&mut self) -> Option<Next> {
        self.repeats += 1;
        (self.repeats <= REPEATS).then(|| Next::Say(self.command()))
    }

    /// The next mask of the same service if any controller announces it, else the next service,
    /// else the end.
    fn go_on(&mut self, session: &mut Session) -> Next {
        (self.repeats, self.waits) = (0, 0);
        match self.base.checked_add(0x20) {
            Some(base) if session.supports(self.service, base) => self.base = base,
            _ => {
                let is_can = session.form().framing.is_can();
                self.base = 0x00;
                match self.service {
                    0x01 if is_can => self.after_parameters(session),
                    0x01 | 0x06 => self.service = 0x09,
                    _ => return self.end(session),
                }
            }
        }
        Next::Say(self.command())
    }

    /// Where no controller reports engine speed, parameters are asked for once more by the services
    /// of newer cars. If these bring no engine either, all is as before.
    fn after_parameters(&mut self, session: &mut Session) {
        if !session.has_engine() && !self.tried_newer && self.services == Services::SaeJ1979 {
            self.tried_newer = true;
            self.set_aside = session.take_controllers();
            self.services = Services::Iso14229;
            return;
        }
        if !session.has_engine() && !self.set_aside.is_empty() {
            session.put_back(std::mem::take(&mut self.set_aside));
            self.services = Services::SaeJ1979;
        }
        session.services = self.services;
        self.service = 0x06;
    }

    fn end(&self, session: &mut Session) -> Next {
        let mut form = session.form();
        // behind an identifier of two bytes a mask fills its frame by itself and proves nothing
        form.full_frames = self.full_frames
            && self.services == Services::SaeJ1979
            && form.headers
            && form.framing.is_can();
        session.form = Some(form);
        Next::Done
    }
}
