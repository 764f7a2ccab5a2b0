//! Bytes and their meanings: answers of controllers, lines of adapters, frames.

use pintle::capture::{Kind, Row, numbers};
use pintle_protocol::{
    Item, Pid,
    adapter::{Command, Form, PromptReader, command, reply},
    bus::{Framing, can, counted, hex, j1850, kline},
    dtc::TroubleCode,
    pid::table,
    service::{answer, current_data, monitor_results},
};

use super::{
    super::{dice::Dice, material::Material, mutate},
    Take, Target,
};

/// A request and an answer to it, a line of hex each.
pub const EXCHANGE: Target = Target {
    name: "exchange",
    ending: "txt",
    share: 4.0,
    waits: false,
    draw: exchange,
    take: Take::Bytes(take_exchange),
};

/// What an adapter sends, byte by byte.
pub const REPLY: Target = Target {
    name: "reply",
    ending: "txt",
    share: 2.0,
    waits: false,
    draw: reply,
    take: Take::Bytes(take_reply),
};

/// Beginnings of requests that the program makes, and of others.
const REQUESTS: [&[u8]; 22] = [
    &[0x01],
    &[0x01, 0x0C],
    &[0x01, 0x06, 0x07, 0x0C, 0x04],
    &[0x01, 0x01],
    &[0x02, 0x02, 0],
    &[0x02, 0x0C, 0],
    &[0x03],
    &[0x04],
    &[0x06, 0xA2],
    &[0x06, 0x00],
    &[0x07],
    &[0x09, 0x02],
    &[0x09, 0x04],
    &[0x09, 0x0B],
    &[0x0A],
    &[0x22, 0xF4, 0x0C],
    &[0x22, 0xF4, 0x06, 0xF4, 0x07],
    &[0x22, 0xF6, 0xA2],
    &[0x22, 0xF8, 0x02],
    &[0x19, 0x42, 0x33, 0x08, 0x1E],
    &[0x19, 0x04, 0x03, 0x03, 0x00, 0xFF],
    &[0x19, 0x02, 0x08],
];

fn random(longest: usize, dice: &mut Dice) -> Vec<u8> {
    (0..dice.index(longest + 1))
        .map(|_| dice.index(256) as u8)
        .collect()
}

fn exchange(_: &Material, dice: &mut Dice) -> Vec<u8> {
    let mut request = REQUESTS[dice.index(REQUESTS.len())].to_vec();
    if dice.chance(0.3) {
        request.extend(random(5, dice));
    }
    let mut response = match request.first() {
        Some(service) => vec![service.wrapping_add(0x40)],
        None => Vec::new(),
    };
    if dice.chance(0.05) {
        response = vec![
            0x7F,
            request[0],
            random(1, dice).first().copied().unwrap_or(0x78),
        ];
    }
    let items = request.get(1..).unwrap_or_default().to_vec();
    for _ in 0..1 + dice.index(6) {
        // the item that was asked for, or any; as much data as it has, or any
        let pid = if dice.chance(0.8) && !items.is_empty() {
            items[dice.index(items.len())]
        } else {
            dice.index(256) as u8
        };
        if dice.chance(0.3) {
            response.extend(&items);
        } else {
            response.push(pid);
        }
        let lengths = table::row(Pid(pid)).map_or(&[][..], |row| row.lengths);
        let length = if dice.chance(0.8) && !lengths.is_empty() {
            usize::from(lengths[dice.index(lengths.len())])
        } else {
            let longest = if dice.chance(0.01) { 4096 } else { 42 };
            dice.index(longest)
        };
        let same = dice
            .chance(0.2)
            .then(|| [0x00, 0xFF, 0x55, 0x80][dice.index(4)]);
        response.extend((0..length).map(|_| same.unwrap_or(dice.index(256) as u8)));
    }
    if dice.chance(0.3) {
        mutate::spoil(&mut response, dice);
    }
    format!("{}\n{}\n", hex::encode(&request), hex::encode(&response)).into_bytes()
}

fn take_exchange(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else {
        return;
    };
    let mut lines = text.lines();
    let (one, two) = (
        lines.next().unwrap_or_default(),
        lines.next().unwrap_or_default(),
    );
    let (Ok(request), Ok(response)) = (hex::decode(one), hex::decode(two)) else {
        return;
    };
    match answer::decode(&request, &response) {
        Ok(answer) => drop(format!("{answer:?}")),
        Err(error) => {
            assert!(
                error.offset <= response.len().max(request.len()),
                "{error} at {}",
                error.offset
            );
        }
    }
    let finite = |item: Item, value: f64| assert!(value.is_finite(), "{item}: {value}");
    let _ = current_data::for_each_number(&request, &response, finite);
    let _ = monitor_results::for_each_number(&request, &response, finite);
    let row = Row {
        t_us: 0,
        kind: Kind::Data,
        ecu: "7E8",
        request: one,
        response: two,
    };
    numbers(&row, finite);
}

/// What adapters say, right and wrong.
const LINES: [&str; 40] = [
    "7E8064100BE3FA81300\r",
    "7E81014490201485244\r",
    "7E82154455354303030\r",
    "7E82230303030303033\r",
    "7E8037F017800000000\r",
    "7E804410C0BB8000000\r",
    "7E804410D0BB8000000\r",
    "7E8104F4100\r",
    "7E81FFF4100000000\r",
    "7E830000000000000000\r",
    "18DAF11006 41 00 BE 3E B8 11\r",
    "014\r",
    "FFF\r",
    "0: 49 02 01 48 52 44\r",
    "1: 54 45 53 54 30 30 30\r",
    "F: 00\r",
    "486B104100BE3EB811C9\r",
    "83F1107F0178F4\r",
    "41 00 BE 3E B8 11\r",
    "SEARCHING...",
    "BUS INIT: ...OK\r",
    "BUS INIT: ERROR\r",
    "NO DATA\r",
    "UNABLE TO CONNECT\r",
    "LV RESET\r",
    "SERIAL ADAPTER v3.2\r",
    "<RX ERROR\r",
    "<DATA ERROR\r",
    "BUFFER FULL\r",
    "STOPPED\r",
    "ERR94\r",
    "CAN ERROR\r",
    "OK\r",
    "?\r",
    "A6\r",
    "12.6V\r",
    "\0",
    "\r\n",
    ">",
    ">",
];

fn reply(_: &Material, dice: &mut Dice) -> Vec<u8> {
    let mut bytes = Vec::new();
    for _ in 0..dice.index(12) {
        if dice.chance(0.85) {
            bytes.extend(LINES[dice.index(LINES.len())].as_bytes())
        } else {
            bytes.extend(random(30, dice))
        }
    }
    if dice.chance(0.5) {
        mutate::spoil(&mut bytes, dice);
    }
    bytes.push(b'>');
    bytes
}

fn take_reply(input: &[u8]) {
    let mut reader = PromptReader::default();
    reader.push(input);
    drop(reader.partial());
    let request = |bytes: &[u8]| Command::Request {
        bytes: bytes.to_vec(),
        expected_lines: Some(2),
    };
    let commands = [
        request(&[0x01, 0x00]),
        request(&[0x09, 0x02]),
        request(&[0x22, 0xF4, 0x0C]),
        Command::Voltage,
    ];
    while let Some(raw) = reader.next_reply() {
        for command in &commands {
            for form in forms() {
                let reply = reply::parse(&raw, command, form);
                assert!(reply.messages.len() <= raw.lines.len(), "{reply:?}");
            }
            drop(reply::words(&raw, command));
        }
        for line in &raw.lines {
            take_line(line);
        }
    }
    let _ = (
        can::parse_part(input),
        kline::parse(input),
        j1850::parse(input, |_| true),
    );
}

fn forms() -> impl Iterator<Item = Form> {
    let form = |(framing, headers)| Form {
        framing,
        headers,
        full_frames: headers,
    };
    let framings = [
        Framing::Can11,
        Framing::Can29,
        Framing::Kline,
        Framing::J1850,
    ];
    framings
        .into_iter()
        .flat_map(move |framing| [true, false].map(|headers| form((framing, headers))))
}

fn take_line(line: &str) {
    let _ = (command::voltage_of(line), command::protocol_of(line));
    let _ = (line.parse::<TroubleCode>(), line.parse::<Item>());
    if let Ok(bytes) = hex::decode(line) {
        assert_eq!(hex::decode(&hex::encode(&bytes)).as_ref(), Ok(&bytes));
        let messages = [kline::parse(&bytes), j1850::parse(&bytes, |_| true)];
        drop(counted::join(messages.into_iter().flatten().collect()));
    }
}
