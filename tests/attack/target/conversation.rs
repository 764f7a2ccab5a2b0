//! The conversation with an adapter that says anything at all, and with one that does everything wrong at once, in
//! simulated time.

use std::collections::VecDeque;

use pintle::simulator::{
    adapter::{Mishap, Mishaps, Purpose, VirtualAdapter},
    bus::Bus,
    car::{Car, fleet, trip::Trip},
};
use pintle_protocol::{
    bus::hex,
    dialogue::{Dialogue, Event, Settings},
};

use super::{
    super::{dice::Dice, material::Material, mutate},
    Take, Target, bytes,
};

/// An adapter's replies, one after the other, whatever it is told. A reply ends with its prompt; without one it is silent
/// after it.
pub const REPLIES: Target = Target {
    name: "replies",
    ending: "txt",
    share: 2.0,
    waits: false,
    draw: replies,
    take: Take::Bytes(take_replies),
};

/// A virtual adapter with mishaps, in a line of words: car, bus, seed, speed, then mishaps with their shares.
pub const ADAPTER: Target = Target {
    name: "adapter",
    ending: "txt",
    share: 1.0,
    waits: false,
    draw: adapter,
    take: Take::Bytes(take_adapter),
};

/// Services that only read (SAE J1979, ISO 14229).
pub const READING: [u8; 9] = [0x01, 0x02, 0x03, 0x06, 0x07, 0x09, 0x0A, 0x19, 0x22];

/// A set-up that succeeds, up to the connection.
const GOOD_BEGINNING: [&str; 14] = [
    "SERIAL ADAPTER v3.2\r>",
    "OK\r>",
    "OK\r>",
    "OK\r>",
    "OK\r>",
    "OK\r>",
    "SERIAL ADAPTER v3.2\r>",
    "12.6V\r>",
    "OK\r>",
    "7E8064100BE3FA81200\r>",
    "A6\r>",
    "7E8064100BE3FA81200\r>",
    "NO DATA\r>",
    "NO DATA\r>",
];

/// Time until the port is opened again, µs.
const REOPEN_US: u64 = 1_000_000;

/// What is asked, in turn.
const QUESTIONS: [&[u8]; 8] = [
    &[0x01, 0x0C],
    &[0x01, 0x06, 0x07, 0x0C, 0x0D, 0x04, 0x10],
    &[0x03],
    &[0x09, 0x02],
    &[0x06, 0xA2],
    &[0x01, 0x0C, 0x06],
    &[0x22, 0xF4, 0x0C],
    &[0x02, 0x02, 0x00],
];

fn replies(material: &Material, dice: &mut Dice) -> Vec<u8> {
    let mut all: Vec<u8> = Vec::new();
    if dice.chance(0.8) {
        let until = if dice.chance(0.2) {
            dice.index(GOOD_BEGINNING.len())
        } else {
            GOOD_BEGINNING.len()
        };
        all.extend(GOOD_BEGINNING[..until].concat().as_bytes());
    }
    for _ in 0..dice.index(30) {
        all.extend((bytes::REPLY.draw)(material, dice));
    }
    if dice.chance(0.5) {
        mutate::spoil(&mut all, dice);
    }
    all
}

fn take_replies(input: &[u8]) {
    let mut dialogue = Dialogue::new(Settings::default());
    let mut now_us = 0;
    let mut asked = Asked::default();
    dialogue.handle_opened(now_us);
    for reply in input.split_inclusive(|byte| *byte == b'>') {
        asked.ask(&mut dialogue, now_us);
        asked.say(&mut dialogue);
        now_us += 1_000;
        dialogue.handle_bytes(now_us, reply);
        if !reply.ends_with(b">")
            && let Some(deadline_us) = dialogue.next_deadline()
        {
            now_us = now_us.max(deadline_us);
            dialogue.handle_timeout(now_us);
        }
        asked.take_events(&mut dialogue, &mut now_us);
    }
    asked.check();
}

/// What was asked of a dialogue and what came of it.
#[derive(Default)]
struct Asked {
    requests: usize,
    ended: usize,
    said: VecDeque<Vec<u8>>,
}

impl Asked {
    fn ask(&mut self, dialogue: &mut Dialogue, now_us: u64) {
        if dialogue.is_ready() {
            let question = QUESTIONS[self.requests % QUESTIONS.len()];
            dialogue
                .request(now_us, question, Some(self.requests as u8 % 5))
                .unwrap();
            self.requests += 1;
        }
    }

    /// Takes what goes to the adapter; nothing of it may change the car.
    fn say(&mut self, dialogue: &mut Dialogue) {
        while let Some(bytes) = dialogue.poll_transmit() {
            let text = String::from_utf8_lossy(&bytes).trim().to_owned();
            let service = text.get(..2).and_then(|text| hex::decode(text).ok());
            if let Some([service]) = service.as_deref() {
                assert!(READING.contains(service), "{text}");
            }
            self.said.push_back(bytes);
        }
    }

    /// Takes what happened. Where there is no way to the car, it is tried again a second later, as the program does.
    fn take_events(&mut self, dialogue: &mut Dialogue, now_us: &mut u64) {
        while let Some(event) = dialogue.poll_event() {
            match event {
                Event::Answer(_) | Event::NoAnswer(_) => self.ended += 1,
                Event::SetupFailed(_) | Event::NeedReopen { .. } => {
                    *now_us += REOPEN_US;
                    dialogue.handle_opened(*now_us);
                }
                _ => {}
            }
        }
    }

    /// Every request ends once; the last may be in the air.
    fn check(&self) {
        let open = self.requests.checked_sub(self.ended);
        assert!(
            matches!(open, Some(0 | 1)),
            "{} asked, {} ended",
            self.requests,
            self.ended
        );
    }
}

/// Every mishap.
const MISHAPS: [Mishap; 27] = [
    Mishap::Refuses("E0"),
    Mishap::Refuses("L0"),
    Mishap::Refuses("S0"),
    Mishap::Refuses("H1"),
    Mishap::Refuses("AT1"),
    Mishap::Ignores("E0"),
    Mishap::Ignores("L0"),
    Mishap::Ignores("S0"),
    Mishap::Ignores("H1"),
    Mishap::Ignores("AT1"),
    Mishap::Echoes,
    Mishap::LosesPrompt,
    Mishap::Zeros,
    Mishap::MixedLineEnds,
    Mishap::MissingLineEnds,
    Mishap::DoubledLineEnds,
    Mishap::GarbageAtStart,
    Mishap::ChangedDigit,
    Mishap::LostDigit,
    Mishap::CutLine,
    Mishap::RepeatsReply,
    Mishap::ByteByByte,
    Mishap::Restarts,
    Mishap::LowVoltage,
    Mishap::Hangs,
    Mishap::HangsHard,
    Mishap::BufferFull,
];

fn adapter(_: &Material, dice: &mut Dice) -> Vec<u8> {
    let car = fleet::FLEET[dice.index(fleet::FLEET.len())].id;
    let bus = dice.index(Bus::ALL.len() + 1);
    let speed = [9_600, 38_400, 500_000][dice.index(3)];
    let mut text = format!("{car} {bus} {} {speed}", dice.seed());
    for _ in 0..dice.index(8) {
        let share = if dice.chance(0.1) {
            1.0
        } else {
            dice.log_between(1e-4, 1.0)
        };
        text += &format!(" {}={share}", dice.index(MISHAPS.len()));
    }
    text.into_bytes()
}

/// The adapter that a line of words describes; nothing where they describe none.
fn described(input: &[u8]) -> Option<VirtualAdapter> {
    let text = std::str::from_utf8(input).ok()?;
    let mut words = text.split_whitespace();
    let mut car = Car::new(fleet::car(words.next()?)?, &[], Trip::warm(1), 1).ok()?;
    if let Some(bus) = Bus::ALL.get(words.next()?.parse::<usize>().ok()?) {
        car = car.on_bus(*bus);
    }
    let mut mishaps = Mishaps::seeded(words.next()?.parse().ok()?);
    let speed = words.next()?.parse().ok()?;
    for word in words {
        let (which, share) = word.split_once('=')?;
        let share: f64 = share
            .parse()
            .ok()
            .filter(|share| (0.0..=1.0).contains(share))?;
        mishaps = mishaps.with(
            *MISHAPS.get(which.parse::<usize>().ok()?)?,
            share,
            0..u64::MAX,
        );
    }
    Some(VirtualAdapter::new(car, speed).with_mishaps(mishaps))
}

/// Requests made of one adapter, and how long it is talked to at most, µs.
const MOST_REQUESTS: usize = 150;
const LONGEST_US: u64 = 120_000_000;

fn take_adapter(input: &[u8]) {
    let Some(mut adapter) = described(input) else {
        return;
    };
    let log = adapter.bus_log();
    let mut dialogue = Dialogue::new(Settings::default());
    let mut asked = Asked::default();
    let mut now_us = 0;
    dialogue.handle_opened(now_us);
    // nothing that happens may take no time for ever
    let mut turns = 0;
    while asked.requests < MOST_REQUESTS && now_us < LONGEST_US {
        turns += 1;
        assert!(turns < 1_000_000, "it goes round and round at {now_us} us");
        asked.ask(&mut dialogue, now_us);
        asked.say(&mut dialogue);
        for byte in asked.said.drain(..).flatten() {
            now_us += adapter.byte_us() as u64;
            adapter.receive(byte, now_us);
        }
        match (adapter.due_us(), dialogue.next_deadline()) {
            (Some(due_us), deadline_us)
                if deadline_us.is_none_or(|deadline_us| due_us <= deadline_us) =>
            {
                now_us = now_us.max(due_us);
                let heard = adapter.take_due(now_us);
                dialogue.handle_bytes(now_us, &heard);
            }
            (_, Some(deadline_us)) => {
                now_us = now_us.max(deadline_us);
                dialogue.handle_timeout(now_us);
            }
            _ => now_us += 1_000,
        }
        asked.take_events(&mut dialogue, &mut now_us);
    }
    asked.check();
    for sent in log
        .messages()
        .iter()
        .filter(|sent| sent.purpose == Purpose::Request)
    {
        let service = sent.data.first();
        assert!(
            service.is_some_and(|service| READING.contains(service)),
            "{sent:?}"
        );
    }
}
