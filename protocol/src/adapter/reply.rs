//! What one reply of the adapter holds: answers of the car, the adapter's own words, damage and
//! noise.
//!
//! A damaged line never becomes an answer: checksums are checked where the bus has one, declared
//! lengths always, and an answer must repeat what was asked.

use super::{
    command::Command,
    damage::Damage,
    headerless, length,
    notice::{self, Notice},
    prompt::RawReply,
};
use crate::{
    bus::{Framing, Message, address::Address, can, counted, hex, j1850, kline, segment::Joiner},
    error::DecodeError,
};

/// Reason that is no final answer: the answer is being prepared (ISO 14229-1).
const WAIT: u8 = 0x78;

/// Reason that is no final answer: busy, ask again (ISO 14229-1).
const BUSY: u8 = 0x21;

/// The form in which this adapter prints this bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// How frames are built.
    pub framing: Framing,
    /// Whether headers (and with them control bytes and checksums) are printed.
    pub headers: bool,
    /// Whether this car's controllers fill every CAN frame to eight bytes, so that a shorter one
    /// lost some.
    pub full_frames: bool,
}

/// A controller's no: `7F`, service, reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refusal {
    /// Who refused.
    pub from: Option<Address>,
    /// Why, a code of ISO 14229-1 (`12`: not supported).
    pub code: u8,
}

/// One reply, sorted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reply {
    /// Positive answers to the request, in the order in which they were complete; one that came
    /// twice counts once.
    pub messages: Vec<Message>,
    /// Final negative answers.
    pub refusals: Vec<Refusal>,
    /// Controllers that asked to wait (`7F … 78`) or to ask again (`7F … 21`) and gave no answer in
    /// this reply.
    pub pending: Vec<Option<Address>>,
    /// The adapter's own words, in order.
    pub notices: Vec<Notice>,
    /// What had to be dropped.
    pub damage: Vec<Damage>,
    /// Whole messages that answer something else.
    pub strays: usize,
    /// The adapter sent back what we said.
    pub echoed: bool,
    /// Lines without any meaning.
    pub noise: usize,
    /// Lines that hold a frame or a piece of a message.
    pub data_lines: usize,
    /// CAN frames of fewer than eight bytes.
    pub short_frames: usize,
}

/// Sorts the reply to a request.
pub fn parse(raw: &RawReply, command: &Command, form: Form) -> Reply {
    let mut reply = Reply::default();
    let lines = reply.take_lines(raw, &command.text());
    reply.data_lines = lines.len();
    let messages = match (form.headers, form.framing) {
        (true, framing) if framing.is_can() => reply.can_messages(&lines, form),
        (true, framing) => reply.summed_messages(&lines, framing, command.request()),
        (false, framing) => headerless::messages(&lines, framing, &mut reply.damage),
    };
    let messages = if form.framing.is_can() {
        messages
    } else {
        let (messages, errors) = counted::join(messages);
        reply.damage.extend(errors.into_iter().map(Damage::from));
        messages
    };
    for message in messages {
        reply.sort_in(message, command.request(), form.framing);
    }
    reply.forget_answered_waits();
    reply
}

/// The adapter's words in the reply to a command that asks the car nothing.
pub fn words(raw: &RawReply, command: &Command) -> Vec<Notice> {
    let sent = command.text();
    let mut notices = Vec::new();
    for line in &raw.lines {
        let squeezed = squeeze(line);
        let text = without_echo(&squeezed, &sent);
        if text.is_empty() {
            continue;
        }
        let split = notice::split(text);
        notices.extend(split.notices);
        if !split.rest.is_empty() {
            notices.push(notice::unknown_words(line));
        }
    }
    notices
}

/// Whether the adapter sent the command back.
pub fn is_echoed(raw: &RawReply, command: &Command) -> bool {
    let sent = command.text();
    let mut lines = raw.lines.iter().map(|line| squeeze(line));
    lines.any(|line| without_echo(&line, &sent).len() < line.len())
}

impl Reply {
    /// Takes the adapter's words, damage and noise out; gives the lines that hold data, without
    /// spaces, in upper case.
    fn take_lines(&mut self, raw: &RawReply, sent: &str) -> Vec<String> {
        if raw.dropped > 0 {
            self.damage.push(Damage::TooLong(raw.dropped));
        }
        let mut data = Vec::new();
        for line in &raw.lines {
            let squeezed = squeeze(line);
            let text = without_echo(&squeezed, sent);
            self.echoed |= text.len() < squeezed.len();
            let split = notice::split(text);
            self.notices.extend(split.notices);
            match split.rest {
                "" => {}
                rest if split.spoilt => self.damage.push(Damage::Line(rest.to_owned())),
                rest => data.extend(self.take_rest(line, rest)),
            }
        }
        data
    }

    /// What is no known word: data, damaged data, unknown words or noise.
    fn take_rest(&mut self, line: &str, rest: &str) -> Option<String> {
        let total = rest.chars().count();
        let digits = rest.chars().filter(char::is_ascii_hexdigit).count();
        let colon = rest.as_bytes().get(1) == Some(&b':');
        if digits + usize::from(colon) == total {
            return Some(rest.to_owned());
        }
        if 2 * digits >= total && rest.contains(|c: char| c.is_ascii_digit()) && !has_version(line)
        {
            self.damage.push(Damage::Line(rest.to_owned()));
        } else if rest.contains(char::REPLACEMENT_CHARACTER) || !rest.contains(char::is_alphabetic)
        {
            self.noise += 1;
        } else {
            self.notices.push(notice::unknown_words(line));
        }
        None
    }

    fn can_messages(&mut self, lines: &[String], form: Form) -> Vec<Message> {
        let mut joiner = Joiner::default();
        let mut messages = Vec::new();
        for line in lines {
            let frame = match can::parse_line(line, form.framing) {
                Ok(frame) => frame,
                Err(error) => {
                    self.drop_line(line, error);
                    continue;
                }
            };
            if frame.length < can::FRAME_BYTES {
                self.short_frames += 1;
                if form.full_frames {
                    self.damage.push(Damage::Line(line.clone()));
                    continue;
                }
            }
            match joiner.push(frame) {
                Ok(message) => messages.extend(message),
                Err(error) => self.damage.push(error.into()),
            }
        }
        self.damage
            .extend(joiner.finish().into_iter().map(Damage::from));
        messages
    }

    fn summed_messages(
        &mut self,
        lines: &[String],
        framing: Framing,
        request: &[u8],
    ) -> Vec<Message> {
        let fits = |payload: &[u8]| length::fits(request, payload);
        let mut messages = Vec::new();
        for line in lines {
            let parsed = hex::decode(line).and_then(|frame| match framing {
                Framing::J1850 => j1850::parse(&frame, fits),
                _ => kline::parse(&frame),
            });
            match parsed {
                Ok(message) => messages.push(message),
                Err(error) => self.drop_line(line, error),
            }
        }
        messages
    }

    fn drop_line(&mut self, line: &str, error: DecodeError) {
        let line = line.to_owned();
        self.damage.push(Damage::Frame { line, error });
    }

    fn sort_in(&mut self, message: Message, request: &[u8], framing: Framing) {
        let from = message.from;
        match (message.payload.as_slice(), request) {
            ([0x7F, service, WAIT | BUSY], [asked, ..]) if service == asked => {
                self.pending.push(from);
            }
            ([0x7F, service, code], [asked, ..]) if service == asked => {
                self.refusals.push(Refusal { from, code: *code });
            }
            // on J1850 the request stands between, with zeros behind it (SAE J1979)
            ([0x7F, service, between @ .., code], [asked, item @ ..])
                if framing == Framing::J1850 && service == asked && between.starts_with(item) =>
            {
                self.refusals.push(Refusal { from, code: *code });
            }
            (payload, _) if answers(payload, request) => {
                if !self.messages.contains(&message) {
                    self.messages.push(message);
                }
            }
            _ => self.strays += 1,
        }
    }

    /// A wait that was followed by an answer of the same controller is over.
    fn forget_answered_waits(&mut self) {
        let (messages, refusals) = (&self.messages, &self.refusals);
        self.pending.retain(|waiting| {
            !messages.iter().any(|message| message.from == *waiting)
                && !refusals.iter().any(|refusal| refusal.from == *waiting)
        });
        self.pending.dedup();
    }
}

/// Whether a positive answer belongs to a request: its service plus 40, and one of the items that
/// were asked for.
fn answers(payload: &[u8], request: &[u8]) -> bool {
    let (Some((answer, content)), Some((service, asked))) =
        (payload.split_first(), request.split_first())
    else {
        return false;
    };
    if service.checked_add(0x40) != Some(*answer) {
        return false;
    }
    match service {
        // freeze frame requests hold pairs of item and frame number
        0x02 => content
            .first()
            .is_some_and(|item| asked.iter().step_by(2).any(|a| a == item)),
        0x01 | 0x05 | 0x06 | 0x08 | 0x09 => {
            content.first().is_some_and(|item| asked.contains(item))
        }
        0x19 => content.first() == asked.first(),
        0x22 => content
            .get(..2)
            .is_some_and(|item| asked.chunks(2).any(|a| a == item)),
        _ => true,
    }
}

/// Upper case, no white space.
fn squeeze(line: &str) -> String {
    let kept = line.chars().filter(|c| !c.is_whitespace());
    kept.map(|c| c.to_ascii_uppercase()).collect()
}

/// What is left of a line when the adapter sent back what we said, alone or before its answer. An
/// answer has at least two characters; a single one behind it is the end of a length line that only
/// begins like our text.
fn without_echo<'a>(line: &'a str, sent: &str) -> &'a str {
    match line.strip_prefix(sent) {
        Some(rest) if !sent.is_empty() && (rest.is_empty() || rest.len() > 1 || rest == "?") => {
            rest
        }
        _ => line,
    }
}

fn has_version(line: &str) -> bool {
    matches!(notice::unknown_words(line), Notice::Banner(_))
}

#[cfg(test)]
mod tests;
