//! A trace in place of adapter and car: each request gets the answer that the real adapter gave to it.
//!
//! Every request text has its own row of answers, in the order of the trace. A program that asks as the recorded one did
//! hears exactly the same; one that asks in another order, or once more, gets the next answer that the request has not
//! had yet, and after the last one that again. Silence is played as silence. What the trace does not know is answered as
//! by an adapter whose car stays silent. It knows no clock; every call says what time it is.

use std::collections::{HashMap, VecDeque};

use crate::trace::{Entry, Event, TraceError};

/// Time that an answer takes which is in no trace, µs (assumed).
const UNKNOWN_US: u64 = 20_000;

/// A trace being played.
#[derive(Debug)]
pub struct TracePlayer {
    rows: HashMap<Vec<u8>, Row>,
    line: Vec<u8>,
    /// The line that is coming in broke off an answer.
    interrupted: bool,
    output: VecDeque<Part>,
}

/// The answers to one request.
#[derive(Debug, Default)]
struct Row {
    answers: Vec<Vec<Part>>,
    next: usize,
}

/// Bytes of an answer that came together.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Part {
    /// In a row: after the end of the request; in the output: on the player's clock.
    at_us: u64,
    bytes: Vec<u8>,
    /// They came after the prompt: the adapter said them unasked.
    unasked: bool,
}

/// A request of the trace and what followed it.
#[derive(Debug)]
struct Exchange {
    request: Vec<u8>,
    asked_us: u64,
    parts: Vec<Part>,
}

impl TracePlayer {
    /// A player at the beginning of a trace. Of a device that was opened at several speeds, the one that was asked the
    /// most is played.
    ///
    /// # Errors
    /// [`TraceError::Silent`] when nothing was asked in it.
    pub fn new(entries: &[Entry]) -> Result<Self, TraceError> {
        let mut exchanges = exchanges(entries);
        if exchanges.last().is_some_and(|last| !last.is_complete()) {
            // the trace ended before the answer did
            exchanges.pop();
        }
        let mut rows: HashMap<Vec<u8>, Row> = HashMap::new();
        for exchange in exchanges {
            let row = rows.entry(exchange.request).or_default();
            row.answers.push(exchange.parts);
        }
        if rows.is_empty() {
            Err(TraceError::Silent)
        } else {
            Ok(Self {
                rows,
                line: Vec::new(),
                interrupted: false,
                output: VecDeque::new(),
            })
        }
    }

    /// When the next bytes are due, µs; `None` when there is nothing more to come.
    pub fn due_us(&self) -> Option<u64> {
        self.output.front().map(|part| part.at_us)
    }

    /// When the last bytes that are now on their way are due, µs.
    pub fn settled_us(&self) -> Option<u64> {
        self.output.back().map(|part| part.at_us)
    }

    /// Takes what is due by `now_us`.
    pub fn take_due(&mut self, now_us: u64) -> Vec<u8> {
        let mut bytes = Vec::new();
        while self.due_us().is_some_and(|at_us| at_us <= now_us) {
            bytes.extend(
                self.output
                    .pop_front()
                    .into_iter()
                    .flat_map(|part| part.bytes),
            );
        }
        bytes
    }

    /// A byte has come in.
    pub fn receive(&mut self, byte: u8, now_us: u64) {
        if self.line.is_empty() {
            self.interrupt(now_us);
        }
        self.line.push(byte);
        if byte == b'\r' {
            let request = request_of(&std::mem::take(&mut self.line));
            let parts = self.answer(&request);
            self.output.extend(parts.into_iter().map(|part| Part {
                at_us: now_us.saturating_add(part.at_us),
                ..part
            }));
        }
    }

    /// A byte breaks off the answer on its way, as with a real adapter; what the adapter said unasked comes at once.
    fn interrupt(&mut self, now_us: u64) {
        let before = self.output.len();
        self.output.retain(|part| part.unasked);
        self.interrupted = self.output.len() < before;
        for part in &mut self.output {
            part.at_us = now_us;
        }
    }

    fn answer(&mut self, request: &[u8]) -> Vec<Part> {
        let interrupted = std::mem::take(&mut self.interrupted);
        if let Some(row) = self.rows.get_mut(request) {
            return row.next_answer();
        }
        let words = match request {
            _ if interrupted => "STOPPED\r",
            b"" => "",
            _ if request.iter().all(u8::is_ascii_hexdigit) => "NO DATA\r",
            _ => "?\r",
        };
        vec![Part {
            at_us: UNKNOWN_US,
            bytes: format!("{words}\r>").into_bytes(),
            unasked: false,
        }]
    }
}

impl Row {
    fn next_answer(&mut self) -> Vec<Part> {
        let answer = self.answers.get(self.next).or(self.answers.last());
        self.next += 1;
        answer.cloned().unwrap_or_default()
    }
}

impl Exchange {
    fn new(request: Vec<u8>, asked_us: u64, heard_before: Vec<u8>) -> Self {
        let mut exchange = Self {
            request,
            asked_us,
            parts: Vec::new(),
        };
        if !heard_before.is_empty() {
            exchange.add(asked_us, &heard_before);
        }
        exchange
    }

    fn is_complete(&self) -> bool {
        self.parts.iter().any(|part| part.bytes.contains(&b'>'))
    }

    fn add(&mut self, t_us: u64, bytes: &[u8]) {
        let part = Part {
            at_us: t_us.saturating_sub(self.asked_us),
            bytes: bytes.to_vec(),
            unasked: self.is_complete(),
        };
        self.parts.push(part);
    }
}

/// The speed at which most requests were made, the first of them if there are several.
fn right_speed(entries: &[Entry]) -> Option<u32> {
    let mut speed = None;
    let mut requests: Vec<(Option<u32>, usize)> = Vec::new();
    for entry in entries {
        match &entry.event {
            Event::Opened(baud) => speed = *baud,
            Event::Out(_) => match requests.iter_mut().find(|(known, _)| *known == speed) {
                Some((_, count)) => *count += 1,
                None => requests.push((speed, 1)),
            },
            Event::In(_) | Event::Lost(_) => {}
        }
    }
    // of equals, max_by_key gives the last
    let most = requests.iter().rev().max_by_key(|(_, count)| *count);
    most.and_then(|(speed, _)| *speed)
}

/// The requests of a trace, each with what followed it.
fn exchanges(entries: &[Entry]) -> Vec<Exchange> {
    let right_speed = right_speed(entries);
    let mut speed = None;
    let mut exchanges: Vec<Exchange> = Vec::new();
    let (mut line, mut before) = (Vec::new(), Vec::new());
    for Entry { t_us, event } in entries {
        match event {
            Event::Opened(baud) => {
                speed = *baud;
                line.clear();
            }
            _ if speed != right_speed => {}
            Event::Out(bytes) => {
                for byte in bytes {
                    line.push(*byte);
                    if *byte == b'\r' {
                        let request = request_of(&std::mem::take(&mut line));
                        // what came before the first request is heard with its answer
                        exchanges.push(Exchange::new(request, *t_us, std::mem::take(&mut before)));
                    }
                }
            }
            Event::In(bytes) => match exchanges.last_mut() {
                Some(exchange) => exchange.add(*t_us, bytes),
                None => before.extend_from_slice(bytes),
            },
            Event::Lost(_) => {}
        }
    }
    exchanges
}

/// What a line asks for, however it is written: an odd last hex digit only says how many lines to wait for.
fn request_of(line: &[u8]) -> Vec<u8> {
    let visible = line.iter().filter(|byte| byte.is_ascii_graphic());
    let mut request: Vec<u8> = visible.map(u8::to_ascii_uppercase).collect();
    if request.len() % 2 == 1 && request.len() > 2 && request.iter().all(u8::is_ascii_hexdigit) {
        request.pop();
    }
    request
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trace;

    /// A player of these lines of a trace.
    fn player(lines: &str) -> TracePlayer {
        let content = format!("pintle trace v1\n{}", lines.replace("    ", ""));
        TracePlayer::new(&trace::parse(content.as_bytes()).unwrap()).unwrap()
    }

    /// Asks at `now_us` and gives all that comes, with the time it took.
    fn ask(player: &mut TracePlayer, now_us: u64, request: &str) -> (u64, String) {
        for byte in request.bytes() {
            player.receive(byte, now_us);
        }
        let settled_us = player.settled_us().unwrap_or(now_us);
        let bytes = player.take_due(settled_us);
        (settled_us - now_us, String::from_utf8(bytes).unwrap())
    }

    fn said(player: &mut TracePlayer, request: &str) -> String {
        ask(player, 0, request).1
    }

    /// A trace with answers at two speeds.
    const TWO_SPEEDS: &str = "100 out 010C\\r
        20100 in 410C0BB8\\r
        30100 in \\r>
        40000 out 010D\\r
        50000 in 410D20\\r\\r>
        60000 out 010C1\\r
        70000 in 410C0FA0\\r\\r>\n";

    #[test]
    fn the_same_questions_get_the_same_answers_after_the_same_time() {
        let mut player = player(TWO_SPEEDS);
        let answer = |took, text: &str| (took, text.to_owned());
        assert_eq!(
            ask(&mut player, 7, "010C\r"),
            answer(30_000, "410C0BB8\r\r>")
        );
        assert_eq!(ask(&mut player, 9, "010D\r"), answer(10_000, "410D20\r\r>"));
        assert_eq!(
            ask(&mut player, 9, "010C1\r"),
            answer(10_000, "410C0FA0\r\r>")
        );
    }

    #[test]
    fn an_answer_comes_in_the_pieces_in_which_it_came() {
        let mut player = player(TWO_SPEEDS);
        for byte in b"010C\r" {
            player.receive(*byte, 1000);
        }
        assert_eq!(player.take_due(20_999), b"");
        assert_eq!(player.take_due(21_000), b"410C0BB8\r");
        assert_eq!(player.due_us(), Some(31_000));
        assert_eq!(player.take_due(31_000), b"\r>");
    }

    #[test]
    fn other_questions_get_the_next_answer_to_them_and_then_the_last_again() {
        let mut player = player(TWO_SPEEDS);
        assert_eq!(said(&mut player, "010D\r"), "410D20\r\r>");
        // spaces, small letters and the number of lines make no other question
        assert_eq!(said(&mut player, "01 0c 1\r"), "410C0BB8\r\r>");
        assert_eq!(said(&mut player, "010C\r"), "410C0FA0\r\r>");
        for _ in 0..3 {
            assert_eq!(said(&mut player, "010C\r"), "410C0FA0\r\r>");
        }
    }

    #[test]
    fn what_the_trace_does_not_know_is_answered_as_with_a_silent_car() {
        let mut player = player(TWO_SPEEDS);
        assert_eq!(said(&mut player, "0105\r"), "NO DATA\r\r>");
        assert_eq!(said(&mut player, "ATI\r"), "?\r\r>");
        assert_eq!(said(&mut player, "\r"), "\r>");
    }

    #[test]
    fn silence_is_played_but_not_an_answer_that_the_trace_cut_off() {
        let mut player = player(
            "0 out 010C\\r
            2000000 out \\r
            2000100 in STOPPED\\r\\r>
            2000200 out 010C\\r
            2000300 in 410C0BB8\\r\\r>
            2000400 out 010C\\r
            2000500 in 41\n",
        );
        assert_eq!(said(&mut player, "010C\r"), "");
        assert_eq!(said(&mut player, "\r"), "STOPPED\r\r>");
        for _ in 0..3 {
            assert_eq!(said(&mut player, "010C\r"), "410C0BB8\r\r>");
        }
    }

    #[test]
    fn a_byte_while_it_works_stops_it() {
        let mut player = player(TWO_SPEEDS);
        for byte in b"010C\r\r" {
            player.receive(*byte, 0);
        }
        assert_eq!(player.take_due(u64::MAX), b"STOPPED\r\r>");
    }

    #[test]
    fn what_the_adapter_said_unasked_comes_in_its_time_or_before_the_next_answer() {
        let lines = "0 out 010C\\r
            10000 in 410C0BB8\\r\\r>
            500000 in \\r\\rSERIAL ADAPTER v3.2\\r\\r>\n";
        let mut patient = player(lines);
        assert_eq!(ask(&mut patient, 0, "010C\r").0, 500_000);
        let mut hasty = player(lines);
        for byte in b"010C\r" {
            hasty.receive(*byte, 0);
        }
        assert_eq!(hasty.take_due(10_000), b"410C0BB8\r\r>");
        let (_, next) = ask(&mut hasty, 20_000, "0105\r");
        assert_eq!(next, "\r\rSERIAL ADAPTER v3.2\r\r>NO DATA\r\r>");
    }

    #[test]
    fn of_several_speeds_the_right_one_is_played() {
        let mut player = player(
            "0 open 38400 baud
            1 out ATZ\\r
            2 in \\xFE\\xF8
            3 lost closed
            4 open 115200 baud
            5 in noise
            6 out ATZ\\r
            7 in SERIAL ADAPTER v3.2\\r\\r>
            8 out ATE0\\r
            9 in OK\\r\\r>\n",
        );
        assert_eq!(said(&mut player, "ATZ\r"), "noiseSERIAL ADAPTER v3.2\r\r>");
        assert_eq!(said(&mut player, "ATE0\r"), "OK\r\r>");
    }

    #[test]
    fn a_trace_in_which_nothing_was_asked_cannot_be_played() {
        for lines in ["", "0 open\n1 in noise>\n"] {
            let content = format!("pintle trace v1\n{lines}");
            let entries = trace::parse(content.as_bytes()).unwrap();
            assert!(matches!(
                TracePlayer::new(&entries),
                Err(TraceError::Silent)
            ));
        }
    }
}
