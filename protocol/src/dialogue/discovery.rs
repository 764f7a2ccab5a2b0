//! Who is there and what each supports: the masks of services 01, 06 and 09.

use super::{event::SetupFailure, session::Session, setup::Next, turn::TurnEnd};
use crate::adapter::{Command, Notice, Reply, reply};

/// How often a mask is asked for again when its answer is damaged or does not come.
const REPEATS: u32 = 2;

/// Which mask is being asked for.
#[derive(Debug)]
pub(super) struct Discovery {
    service: u8,
    base: u8,
    repeats: u32,
    /// No CAN frame so far was shorter than eight bytes.
    full_frames: bool,
}

impl Discovery {
    pub fn new() -> Self {
        Self {
            service: 0x01,
            base: 0x00,
            repeats: 0,
            full_frames: true,
        }
    }

    /// What to say now.
    pub fn command(&self) -> Command {
        Command::Request {
            bytes: vec![self.service, self.base],
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
        if unfinished(&reply)
            && let Some(next) = self.again()
        {
            return next;
        }
        if !session.has_controllers() {
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
            if let [_, base, a, b, c, d] = *message.payload.as_slice()
                && base == self.base
            {
                session.add_mask(message.from, self.service, base, [a, b, c, d]);
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
        self.repeats = 0;
        match self.base.checked_add(0x20) {
            Some(base) if session.supports(self.service, base) => self.base = base,
            _ => {
                let is_can = session.form().framing.is_can();
                self.base = 0x00;
                self.service = match self.service {
                    0x01 if is_can => 0x06,
                    0x01 | 0x06 => 0x09,
                    _ => return self.end(session),
                };
            }
        }
        Next::Say(self.command())
    }

    fn end(&self, session: &mut Session) -> Next {
        let mut form = session.form();
        form.full_frames = self.full_frames && form.headers && form.framing.is_can();
        session.form = Some(form);
        Next::Done
    }
}

/// Whether asking again may bring more: damage, or a controller that only asked to wait.
fn unfinished(reply: &Reply) -> bool {
    !reply.damage.is_empty() || !reply.pending.is_empty()
}
