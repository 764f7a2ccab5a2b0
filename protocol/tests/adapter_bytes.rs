//! Whatever bytes come from an adapter, however they are cut: nothing panics, and the cutting
//! changes nothing.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use pintle_protocol::{
    adapter::{Command, Form, PromptReader, RawReply, reply},
    bus::{Framing, can, counted, hex, j1850, kline, segment::Joiner},
    dialogue::{Dialogue, Event, Settings},
};
use proptest::{collection::vec, prelude::*, sample::select, test_runner::Config};

/// Bytes as adapters send them and as none does.
fn adapter_bytes() -> impl Strategy<Value = Vec<u8>> {
    let words = select(vec![
        "7E8064100BE3FA81300\r",
        "7E81014490201485244\r",
        "7E82154455354303030\r",
        "7E82230303030303033\r",
        "7E8037F017800000000\r",
        "7E804410C0BB8000000\r",
        "7E804410D0BB8000000\r",
        "014\r",
        "0: 49 02 01 48 52 44\r",
        "1: 54 45 53 54 30 30 30\r",
        "486B104100BE3EB811C9\r",
        "SEARCHING...",
        "BUS INIT: ...OK\r",
        "NO DATA\r",
        "LV RESET\r",
        "SERIAL ADAPTER v3.2\r",
        "<RX ERROR\r",
        "OK\r",
        "?\r",
        "A6\r",
        "12.6V\r",
        "\0",
        "\r\n",
        ">",
        ">",
    ]);
    let piece = prop_oneof![
        4 => words.prop_map(|word| word.as_bytes().to_vec()),
        1 => vec(any::<u8>(), 0..12),
    ];
    vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

fn replies(chunks: &[&[u8]]) -> Vec<RawReply> {
    let mut reader = PromptReader::default();
    let mut replies = Vec::new();
    for chunk in chunks {
        reader.push(chunk);
        replies.extend(std::iter::from_fn(|| reader.next_reply()));
    }
    replies
}

/// Bytes cut at the places given, each modulo the length.
fn cut<'a>(bytes: &'a [u8], places: &[usize]) -> Vec<&'a [u8]> {
    let mut places: Vec<usize> = places
        .iter()
        .map(|place| place % (bytes.len() + 1))
        .collect();
    places.extend([0, bytes.len()]);
    places.sort_unstable();
    places
        .windows(2)
        .map(|pair| &bytes[pair[0]..pair[1]])
        .collect()
}

fn forms() -> Vec<Form> {
    let framings = [
        Framing::Can11,
        Framing::Can29,
        Framing::Kline,
        Framing::J1850,
    ];
    let form = |framing, headers| Form {
        framing,
        headers,
        full_frames: false,
    };
    framings
        .iter()
        .flat_map(|framing| [form(*framing, true), form(*framing, false)])
        .collect()
}

/// The frames that ISO 15765-2 makes of a message.
fn frames_of(payload: &[u8]) -> Vec<Vec<u8>> {
    let total = payload.len() as u16;
    let mut frames = vec![[&(0x1000 | total).to_be_bytes(), &payload[..6]].concat()];
    for (number, piece) in payload[6..].chunks(7).enumerate() {
        let mut frame = vec![0x20 | ((number + 1) % 16) as u8];
        frame.extend_from_slice(piece);
        frame.resize(8, 0x55);
        frames.push(frame);
    }
    frames
}

/// What a dialogue did.
#[derive(Debug, PartialEq, Default)]
struct Conversation {
    said: Vec<Vec<u8>>,
    events: Vec<Event>,
    requests: usize,
    in_the_air: bool,
}

/// Lets the adapter answer with these replies, in turn, as the dialogue speaks or times out.
fn converse(replies: &[Vec<u8>], chunk: usize) -> Conversation {
    let mut dialogue = Dialogue::new(Settings::default());
    let mut done = Conversation::default();
    let mut now_us = 0;
    dialogue.handle_opened(now_us);
    for reply in replies {
        if dialogue.is_ready() {
            dialogue.request(now_us, &[0x01, 0x0C], None).unwrap();
            done.requests += 1;
        }
        done.said.extend(dialogue.poll_transmit());
        now_us += 1000;
        for chunk in reply.chunks(chunk) {
            dialogue.handle_bytes(now_us, chunk);
        }
        if !reply.contains(&b'>')
            && let Some(deadline_us) = dialogue.next_deadline()
        {
            now_us = now_us.max(deadline_us);
            dialogue.handle_timeout(now_us);
        }
        done.events
            .extend(std::iter::from_fn(|| dialogue.poll_event()));
    }
    done.in_the_air = !dialogue.is_ready() && dialogue.next_deadline().is_some();
    done
}

/// A set-up that succeeds, up to the connection.
fn good_beginning() -> Vec<Vec<u8>> {
    let mask = "7E8064100BE3FA81200\r>";
    let setting = ["OK\r>"; 5];
    let replies = ["SERIAL ADAPTER v3.2\r>"].into_iter().chain(setting);
    let about = ["SERIAL ADAPTER v3.2\r>", "12.6V\r>", "OK\r>", mask, "A6\r>"];
    let masks = [mask, "NO DATA\r>", "NO DATA\r>"];
    let replies = replies.chain(about).chain(masks);
    replies.map(|reply| reply.as_bytes().to_vec()).collect()
}

/// Whether an event ends a request.
fn is_end(event: &Event) -> bool {
    matches!(event, Event::Answer(_) | Event::NoAnswer(_))
}

proptest! {
    #![proptest_config(Config { failure_persistence: None, ..Config::default() })]

    #[test]
    fn frames_of_any_bytes_never_panic(bytes in vec(any::<u8>(), 0..40)) {
        let _ = (can::parse_part(&bytes), kline::parse(&bytes), j1850::parse(&bytes, |_| true));
        prop_assert_eq!(hex::decode(&hex::encode(&bytes)).unwrap(), bytes);
    }

    #[test]
    fn lines_of_any_text_never_panic(text in "\\PC{0,40}") {
        let _ = (hex::decode(&text), can::parse_line(&text, Framing::Can11));
        let _ = can::parse_line(&text, Framing::Can29);
    }

    #[test]
    fn replies_of_any_bytes_never_panic(bytes in adapter_bytes(), request in vec(any::<u8>(), 0..4)) {
        let command = Command::Request { bytes: request, expected_lines: None };
        for raw in replies(&[&bytes]) {
            for form in forms() {
                let reply = reply::parse(&raw, &command, form);
                prop_assert!(reply.messages.len() <= raw.lines.len());
            }
            reply::words(&raw, &command);
        }
    }

    #[test]
    fn cutting_does_not_change_the_replies(bytes in adapter_bytes(), places in vec(any::<usize>(), 0..20)) {
        prop_assert_eq!(replies(&[&bytes]), replies(&cut(&bytes, &places)));
    }

    #[test]
    fn any_conversation_is_the_same_however_it_is_cut_and_ends_each_request_once(
        replies in vec(adapter_bytes(), 0..60),
        begins_well in any::<bool>(),
        chunk in 1usize..30,
    ) {
        // a reply ends at its prompt; what would come behind it has its own turn
        let one = |reply: Vec<u8>| {
            let end = reply.iter().position(|byte| *byte == b'>');
            reply[..end.map_or(reply.len(), |end| end + 1)].to_vec()
        };
        let mut all = if begins_well { good_beginning() } else { Vec::new() };
        all.extend(replies.into_iter().map(one));
        let whole = converse(&all, usize::MAX);
        prop_assert_eq!(&whole, &converse(&all, chunk));
        let ended = whole.events.iter().filter(|event| is_end(event)).count();
        let open = whole.requests - ended;
        prop_assert!(open == 0 || (open == 1 && whole.in_the_air), "{:?}", whole);
        for event in &whole.events {
            if let Event::Answer(answer) = event {
                for message in &answer.messages {
                    prop_assert_eq!(&message.payload[..2], &[0x41, 0x0C]);
                }
            }
        }
    }

    /// A message cut into frames as ISO 15765-2 says comes out as it was.
    #[test]
    fn segmented_messages_read_back(payload in vec(any::<u8>(), 8..4096)) {
        let mut joiner = Joiner::default();
        let mut messages = Vec::new();
        for frame in frames_of(&payload) {
            let line = format!("7E8{}", hex::encode(&frame));
            let frame = can::parse_line(&line, Framing::Can11).unwrap();
            messages.extend(joiner.push(frame).unwrap());
        }
        prop_assert_eq!(joiner.finish(), []);
        prop_assert_eq!(messages.len(), 1);
        prop_assert_eq!(&messages[0].payload, &payload);
        prop_assert!(counted::join(messages).1.is_empty());
    }

    /// Leaving out, repeating or swapping any one frame never gives a message of the right service
    /// that is wrong.
    #[test]
    fn a_disturbed_segmentation_gives_nothing_wrong(
        payload in vec(any::<u8>(), 20..200),
        place in any::<usize>(),
        kind in 0..3,
    ) {
        let mut frames = frames_of(&payload);
        let place = place % (frames.len() - 1);
        match kind {
            0 => { frames.remove(place); }
            1 => { let again = frames[place].clone(); frames.insert(place, again); }
            _ => frames.swap(place, place + 1),
        }
        let mut joiner = Joiner::default();
        for frame in &frames {
            let line = format!("7E8{}", hex::encode(frame));
            let frame = can::parse_line(&line, Framing::Can11).unwrap();
            if let Ok(Some(message)) = joiner.push(frame) {
                prop_assert_eq!(&message.payload, &payload);
            }
        }
    }
}
