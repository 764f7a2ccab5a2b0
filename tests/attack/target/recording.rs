//! A whole recording from a hostile adapter on the network: connecting, asking, recovering, writing.

use std::{
    future::pending,
    io::{Read, Write},
    net::{TcpListener, TcpStream},
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

use pintle::{
    capture::{Kind, Reader, Writer},
    clock::Clock,
    link::{Device, Session},
};
use pintle_protocol::bus::hex;

use super::{
    super::{dice::Dice, material::Material, mutate},
    Take, Target,
    conversation::READING,
};

/// Rules, one a line: what a request begins with, `=`, then what is said to it. `\r` is a line end; `*N` behind the rule
/// says it so many times. The first rule that fits counts; none that fits is silence, and `!` hangs up.
pub const RECORDING: Target = Target {
    name: "recording",
    ending: "txt",
    share: 1.0,
    waits: true,
    draw: recording,
    take: Take::Bytes(take_recording),
};

/// An adapter and a car that behave.
const GOOD: [&str; 12] = [
    "ATZ=SERIAL ADAPTER v3.2\\r>",
    "ATI=SERIAL ADAPTER v3.2\\r>",
    "ATRV=12.6V\\r>",
    "ATDPN=A6\\r>",
    "AT=OK\\r>",
    "0100=7E8064100BE3FA813\\r>",
    "0120=7E8064120A007B011\\r>",
    "0140=7E80641407AD08000\\r>",
    "010C=7E804410C0BB8\\r>",
    "0106=7E803410680\\r>",
    "03=7E8024300\\r>",
    "=NO DATA\\r>",
];

/// Answers that go wrong in ways of their own.
const BAD: [&str; 16] = [
    "7E8037F0178\\r>",
    "7E8037F0121\\r>",
    "7E8037F0178\\r",
    "7E8037F0112\\r>",
    ">",
    "",
    "!",
    "STOPPED\\r>",
    "?\\r>",
    "OK\\r>",
    "UNABLE TO CONNECT\\r>",
    "LV RESET\\r\\r>",
    "BUFFER FULL\\r>",
    "7E8104F4100\\r>",
    "SERIAL ADAPTER v3.2\\r>",
    "7E804410C0BB8\\r",
];

/// How long is recorded, in simulated time, µs.
const LENGTH_US: u64 = 20_000_000;
/// What an exchange takes, in simulated time, µs.
const EXCHANGE_US: u64 = 25_000;
/// Most link states told in such a time: a few, and then one for each second.
const MOST_LINK_ROWS: usize = 40;

fn recording(_: &Material, dice: &mut Dice) -> Vec<u8> {
    let mut rules: Vec<String> = GOOD.map(str::to_owned).to_vec();
    for _ in 0..1 + dice.index(3) {
        let prefix = *dice.one_of(&["01", "010C", "03", "06", "09", "0", "22", "AT", "ATZ", ""]);
        let mut bad = String::from(*dice.one_of(&BAD));
        if dice.chance(0.1) {
            bad = mutate::word(dice).escape_ascii().to_string();
        }
        let times = if dice.chance(0.1) {
            format!("*{}", 1 << dice.index(14))
        } else {
            String::new()
        };
        let at = dice.index(rules.len());
        rules.insert(at, format!("{prefix}={bad}{times}"));
    }
    rules.join("\n").into_bytes()
}

/// What is said to what.
struct Rules(Vec<(String, Vec<u8>)>);

impl Rules {
    fn read(input: &[u8]) -> Self {
        let text = String::from_utf8_lossy(input);
        let rule = |line: &str| {
            let (prefix, reply) = line.split_once('=')?;
            let (reply, times) = match reply.rsplit_once('*') {
                Some((reply, times)) => (reply, times.parse().ok()?),
                None => (reply, 1_usize),
            };
            let said = reply
                .replace("\\r", "\r")
                .replace("\\n", "\n")
                .replace("\\x00", "\0");
            Some((
                prefix.to_owned(),
                said.repeat(times.min(20_000)).into_bytes(),
            ))
        };
        Self(text.lines().filter_map(rule).collect())
    }

    fn reply(&self, request: &str) -> &[u8] {
        let rule = self
            .0
            .iter()
            .find(|(prefix, _)| request.starts_with(prefix.as_str()));
        rule.map_or(&[], |(_, reply)| reply)
    }
}

/// The adapter: answers whoever comes until it is over.
fn serve(listener: &TcpListener, rules: &Rules, clock: &Clock, over: &AtomicBool) {
    while !over.load(Ordering::Acquire) {
        match listener.accept() {
            Ok((stream, _)) => talk(stream, rules, clock, over),
            Err(_) => std::thread::sleep(Duration::from_millis(1)),
        }
    }
}

fn talk(mut stream: TcpStream, rules: &Rules, clock: &Clock, over: &AtomicBool) {
    stream.set_nonblocking(false).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_millis(5)))
        .unwrap();
    let mut line = String::new();
    let mut byte = [0];
    while !over.load(Ordering::Acquire) {
        match stream.read(&mut byte) {
            Ok(0) => return,
            Ok(_) if byte == *b"\r" => {
                clock.advance_to(clock.now_us() + EXCHANGE_US);
                let request = std::mem::take(&mut line);
                if let Ok([service, ..]) =
                    hex::decode(request.get(..2).unwrap_or_default()).as_deref()
                {
                    assert!(READING.contains(service), "{request}");
                }
                match rules.reply(&request) {
                    b"!" => return,
                    reply if stream.write_all(reply).is_err() => return,
                    _ => {}
                }
            }
            Ok(_) => line.push(char::from(byte[0])),
            Err(_) => {}
        }
    }
}

fn take_recording(input: &[u8]) {
    let rules = Rules::read(input);
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.set_nonblocking(true).unwrap();
    let device = Device::Network(listener.local_addr().unwrap().to_string());
    let (clock, over) = (Clock::simulated(), Arc::new(AtomicBool::new(false)));
    let adapter = std::thread::spawn({
        let (clock, over) = (clock.clone(), over.clone());
        move || serve(&listener, &rules, &clock, &over)
    });
    record(device, clock);
    over.store(true, Ordering::Release);
    adapter.join().unwrap();
}

fn record(device: Device, clock: Clock) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.capture.csv");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let Ok(mut session) = Session::connect(device, clock).await else {
            return;
        };
        let mut writer = Writer::create(&path, &session.header(None)).unwrap();
        // a recording may end for many reasons; what it wrote must be sound
        drop(
            session
                .record(Some(&mut writer), Some(LENGTH_US), pending, |_, _| {})
                .await,
        );
        writer.finish().unwrap();
        check(&path);
    });
}

fn check(path: &std::path::Path) {
    let mut reader = Reader::open(path).unwrap();
    let mut links = 0;
    while let Some(row) = reader.next_row().unwrap() {
        links += usize::from(row.kind == Kind::Link);
    }
    assert!(reader.damage().is_none(), "{:?}", reader.damage());
    assert!(links <= MOST_LINK_ROWS, "{links} link states in 20 s");
}
