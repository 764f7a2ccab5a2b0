//! Golden dialogues: traces written by hand from the standards, each with what must be made of it beside it.
//!
//! The dialogue is driven without port and clock: it must say every `out` line of the trace word for word, at the latest
//! at its time, and hears the `in` lines. Each trace is also heard a byte at a time, and with all that came between two
//! `out` lines in one read: what is made of it must stay the same.

use std::{fs, path::PathBuf};

use pintle::trace::{self, Entry, Event};
use pintle_protocol::{
    bus::{Message, hex},
    dialogue::{self, Answer, Connection, Controller, Dialogue, Settings, Why},
    service::Services,
};

/// How bytes are cut on their way to the dialogue.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Cut {
    /// As in the trace.
    AsRecorded,
    /// Each byte in a read of its own.
    Bytewise,
    /// All that came between two `out` lines in one read.
    AtOnce,
}

/// A trace being played to a dialogue.
struct Play {
    dialogue: Dialogue,
    told: String,
    now_us: u64,
}

fn play(entries: &[Entry], cut: Cut) -> String {
    let mut play = Play {
        dialogue: Dialogue::new(Settings::default()),
        told: String::new(),
        now_us: 0,
    };
    let mut entries = entries.iter().peekable();
    while let Some(Entry { t_us, event }) = entries.next() {
        match event {
            Event::Out(bytes) => play.hear_out(*t_us, bytes),
            Event::In(bytes) => {
                play.pass_time(*t_us);
                let mut bytes = bytes.clone();
                while cut == Cut::AtOnce
                    && let Some(Entry {
                        event: Event::In(more),
                        ..
                    }) = entries.peek()
                {
                    bytes.extend(more);
                    entries.next();
                }
                let piece = if cut == Cut::Bytewise { 1 } else { bytes.len() };
                for piece in bytes.chunks(piece) {
                    play.dialogue.handle_bytes(*t_us, piece);
                }
            }
            Event::Opened(_) => {
                play.pass_time(*t_us);
                play.dialogue.handle_opened(*t_us);
            }
            Event::Lost(_) => {
                play.pass_time(*t_us);
                play.dialogue.handle_lost(*t_us);
            }
        }
        play.tell();
    }
    let left = (play.dialogue.poll_transmit(), play.dialogue.next_deadline());
    assert_eq!(
        left,
        (None, None),
        "nothing may be left open at the end of the trace"
    );
    play.told
}

impl Play {
    /// The dialogue must say these bytes by now, by itself or because it is asked to.
    fn hear_out(&mut self, t_us: u64, bytes: &[u8]) {
        let expected = String::from_utf8_lossy(bytes);
        self.now_us = t_us;
        let said = loop {
            if let Some(said) = self.dialogue.poll_transmit() {
                break said;
            }
            match self.dialogue.next_deadline() {
                Some(deadline_us) if deadline_us <= t_us => {
                    self.dialogue.handle_timeout(deadline_us)
                }
                _ if self.dialogue.is_ready() => self.request(&expected),
                _ => panic!("at {t_us} the dialogue is silent, expected {expected:?}"),
            }
            self.tell();
        };
        assert_eq!(String::from_utf8_lossy(&said), expected, "at {t_us}");
    }

    /// Makes the request that stands in an `out` line; an odd last digit is the number of lines to expect.
    fn request(&mut self, line: &str) {
        let digits = line.trim_end();
        let (request, lines) = digits.split_at(digits.len() / 2 * 2);
        let lines = lines.chars().next().and_then(|digit| digit.to_digit(16));
        let request = hex::decode(request).unwrap();
        let lines = lines.map(|lines| lines as u8);
        self.dialogue.request(self.now_us, &request, lines).unwrap();
    }

    /// Lets time pass in which nothing is heard; the dialogue must have nothing to say that the trace does not hold.
    fn pass_time(&mut self, t_us: u64) {
        loop {
            if let Some(said) = self.dialogue.poll_transmit() {
                let said = String::from_utf8_lossy(&said).into_owned();
                panic!("before {t_us} the dialogue says {said:?}, which is not in the trace");
            }
            match self.dialogue.next_deadline() {
                Some(deadline_us) if deadline_us <= t_us => {
                    self.dialogue.handle_timeout(deadline_us)
                }
                _ => break,
            }
            self.tell();
        }
        self.now_us = t_us;
    }

    /// Notes what happened, as the `.expected` files write it.
    fn tell(&mut self) {
        while let Some(event) = self.dialogue.poll_event() {
            self.told += &match event {
                dialogue::Event::Connected(connection) => connected(&connection),
                dialogue::Event::SetupFailed(failure) => format!("failed: {failure}\n"),
                dialogue::Event::Answer(answer) => answered(&answer),
                dialogue::Event::NoAnswer(none) => {
                    let why = match &none.why {
                        Why::Damaged(_) => "damaged".to_owned(),
                        why => why.to_string(),
                    };
                    format!("none {}: {why}\n", hex::encode(&none.request))
                }
                dialogue::Event::LinkTrouble { step, .. } => format!("trouble: {step:?}\n"),
                dialogue::Event::Restarted { .. } => "restarted\n".to_owned(),
                dialogue::Event::Recovered => "recovered\n".to_owned(),
                dialogue::Event::CarKeepsWaiting { .. } => "car keeps waiting\n".to_owned(),
                dialogue::Event::CarSilent { notice, .. } => format!("car silent: {notice}\n"),
                dialogue::Event::NeedReopen { .. } => "reopen\n".to_owned(),
            };
        }
    }
}

fn connected(connection: &Connection) -> String {
    let voltage = connection.voltage;
    let voltage = voltage.map_or("no voltage".to_owned(), |volts| format!("{volts:.1} V"));
    let adapter = &connection.adapter;
    let name = adapter.name.as_deref().unwrap_or("no name");
    let mut told = format!(
        "connected: {}, {voltage}, {name}\n",
        connection.protocol.id()
    );
    if !adapter.refused.is_empty() {
        told += &format!("refuses: {}\n", adapter.refused.join(", "));
    }
    if connection.services == Services::Iso14229 {
        told += "services: ISO 14229\n";
    }
    for controller in &connection.controllers {
        told += &supported(controller);
    }
    told
}

fn supported(controller: &Controller) -> String {
    let list = |items: &dialogue::Supported| {
        let items: Vec<String> = items.items().map(|item| format!("{item:02X}")).collect();
        if items.is_empty() {
            "none".to_owned()
        } else {
            items.join(" ")
        }
    };
    let address = controller
        .address
        .map_or("?".to_owned(), |address| address.to_string());
    format!(
        "controller {address}: 01: {}; 06: {}; 09: {}\n",
        list(&controller.parameters),
        list(&controller.monitors),
        list(&controller.information)
    )
}

fn answered(answer: &Answer) -> String {
    let request = hex::encode(&answer.request);
    let from = |address: Option<pintle_protocol::Address>| {
        address.map_or("?".to_owned(), |address| address.to_string())
    };
    let line = |message: &Message| {
        let payload = hex::encode(&message.payload);
        format!("answer {request}: {} {payload}\n", from(message.from))
    };
    let mut told: String = answer.messages.iter().map(line).collect();
    for refusal in &answer.refusals {
        told += &format!(
            "refused {request}: {} {:02X}\n",
            from(refusal.from),
            refusal.code
        );
    }
    told
}

#[test]
fn every_golden_dialogue_is_understood_however_its_bytes_are_cut() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/dialogues");
    let mut count = 0;
    for file in fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path
            .extension()
            .is_none_or(|extension| extension != "trace")
        {
            continue;
        }
        count += 1;
        let entries = trace::read(&path).unwrap();
        let expected = fs::read_to_string(path.with_extension("expected")).unwrap();
        let expected = expected.replace("\r\n", "\n");
        for cut in [Cut::AsRecorded, Cut::Bytewise, Cut::AtOnce] {
            println!("{} {cut:?}", path.display());
            assert_eq!(play(&entries, cut), expected);
        }
    }
    assert!(count >= 12, "{count}");
}
