use super::*;
use crate::adapter::PromptReader;

/// 11-bit CAN with headers.
const CAN11: Form = form(Framing::Can11, true);
/// 29-bit CAN with headers.
const CAN29: Form = form(Framing::Can29, true);
/// K-line with headers.
const KLINE: Form = form(Framing::Kline, true);
/// J1850 with headers.
const J1850: Form = form(Framing::J1850, true);
/// 11-bit CAN without headers.
const BARE_CAN: Form = form(Framing::Can11, false);
/// K-line without headers.
const BARE_KLINE: Form = form(Framing::Kline, false);

const fn form(framing: Framing, headers: bool) -> Form {
    Form {
        framing,
        headers,
        full_frames: false,
    }
}

fn reply(request: &str, bytes: &str, form: Form) -> Reply {
    let mut reader = PromptReader::default();
    reader.push(bytes.as_bytes());
    reader.push(b"\r>");
    let command = Command::Request {
        bytes: hex::decode(request).unwrap(),
        expected_lines: None,
    };
    parse(&reader.next_reply().unwrap(), &command, form)
}

/// Address and payload of each message, as a capture prints them.
fn answers_of(reply: &Reply) -> Vec<(String, String)> {
    let from = |m: &Message| m.from.map_or(String::new(), |from| from.to_string());
    let shown = |m: &Message| (from(m), hex::encode(&m.payload));
    reply.messages.iter().map(shown).collect()
}

/// Checks that a reply holds these answers and nothing that is wrong.
fn gives(request: &str, bytes: &str, form: Form, expected: &[(&str, &str)]) {
    let reply = reply(request, bytes, form);
    let answers = answers_of(&reply);
    let answers: Vec<_> = answers
        .iter()
        .map(|(a, b)| (a.as_str(), b.as_str()))
        .collect();
    assert_eq!(answers, expected, "{bytes:?}");
    assert_eq!(reply.damage, [], "{bytes:?}");
    assert_eq!((reply.noise, reply.strays), (0, 0), "{bytes:?}");
}

/// Checks that a reply gives no answer of any kind.
fn gives_nothing(request: &str, bytes: &str, form: Form) -> Reply {
    let reply = reply(request, bytes, form);
    assert_eq!(reply.messages, [], "{bytes:?}");
    assert_eq!(reply.refusals, [], "{bytes:?}");
    reply
}

// ISO 15765-4 and ISO 15765-2: identifier, control byte, data, padding
#[test]
fn single_can_frames_are_read_in_any_dress() {
    let expected = [("7E8", "410C0BB8")];
    for bytes in [
        "7E804410C0BB8000000",
        "7E8 04 41 0C 0B B8 00 00 00 ",
        "7e8 04 41 0c 0b b8 aa aa aa",
        "\r\n7E804410C0BB8555555\r\n",
        "010C\r7E804410C0BB8000000",
        "010C7E804410C0BB8000000",
        "01 0C\r7E804410C0BB8000000",
        "7E8\x00\x30441\x00\x30C0BB8000000",
        "7E804410C0BB8",
        "SEARCHING...\r7E804410C0BB8000000",
        "SEARCHING...7E804410C0BB8000000",
        "7E804410C0BB8000000\r7E804410C0BB8000000",
    ] {
        gives("010C", bytes, CAN11, &expected);
    }
    gives(
        "010C",
        "18DAF110 04410C0BB8000000",
        CAN29,
        &[("18DAF110", "410C0BB8")],
    );
    gives(
        "010C",
        "18 DA F1 10 04 41 0C 0B B8 00 00 00",
        CAN29,
        &[("18DAF110", "410C0BB8")],
    );
}

#[test]
fn several_controllers_are_kept_apart_even_when_interleaved() {
    let bytes = "7E8 10 14 49 02 01 48 52 44\r7E9 10 14 49 02 01 58 58 58\r\
                 7E8 21 54 45 53 54 30 30 30\r7E9 21 58 58 58 58 58 58 58\r\
                 7E9 22 58 58 58 58 58 58 58\r7E8 22 30 30 30 30 30 30 33";
    let expected = [
        ("7E9", "4902015858585858585858585858585858585858"),
        ("7E8", "4902014852445445535430303030303030303033"),
    ];
    gives("0902", bytes, CAN11, &expected);
}

// ISO 9141-2 and ISO 14230-4; sums worked by hand
#[test]
fn kline_frames_are_read_by_their_sum() {
    gives(
        "010C",
        "48 6B 10 41 0C 1A F8 22",
        KLINE,
        &[("10", "410C1AF8")],
    );
    gives("010C", "84F110410C1AF8E4", KLINE, &[("10", "410C1AF8")]);
    gives(
        "010C",
        "BUS INIT: ...OK\r84F110410C1AF8E4",
        KLINE,
        &[("10", "410C1AF8")],
    );
    gives(
        "010C",
        "BUS INIT: OK84F110410C1AF8E4",
        KLINE,
        &[("10", "410C1AF8")],
    );
    let two = "486B104100BE3EB811C9\r86F11841008018000068";
    let expected = [("10", "4100BE3EB811"), ("18", "410080180000")];
    gives("0100", two, KLINE, &expected);
    for changed in [
        "486B10410C1AF823",
        "486B10410C1BF822",
        "486B10410C1AF8",
        "84F110410C1AE4",
    ] {
        let reply = gives_nothing("010C", changed, KLINE);
        assert_eq!(reply.damage.len(), 1, "{changed}");
    }
}

// SAE J1850; the first frame with its check byte FA is an often printed example (from memory)
#[test]
fn j1850_frames_are_read_by_their_check_byte() {
    gives(
        "0100",
        "48 6B 10 41 00 BE 3E B8 11 FA",
        J1850,
        &[("10", "4100BE3EB811")],
    );
    gives("010C", "416B10410C1AF83D", J1850, &[("10", "410C1AF8")]);
    // the tester's own acknowledgement behind the check byte
    gives("010C", "416B10410C1AF83DF1", J1850, &[("10", "410C1AF8")]);
    for damaged in ["486B10410C1AF822", "416B10410C1BF83DF1"] {
        let reply = gives_nothing("010C", damaged, J1850);
        assert_eq!(reply.damage.len(), 1, "{damaged}");
    }
}

// SAE J1979: a refusal on J1850 repeats the request, filled with zeros
#[test]
fn a_refusal_on_j1850_is_one() {
    let reply = reply("010C", "486B107F010C00001206", J1850);
    assert_eq!(reply.refusals.len(), 1);
    assert_eq!((reply.refusals[0].code, reply.strays), (0x12, 0));
    let other = gives_nothing("010D", "486B107F010C00001206", J1850);
    assert_eq!(other.strays, 1);
}

// SAE J1979, service 09 on buses other than CAN: five counted messages make the identification
// number
#[test]
fn counted_messages_become_one_answer() {
    let number = [("10", "4902014852445445535430303030303030303033")];
    let kline = "87F110490201000000481C\r87F1104902025244544504\r87F11049020353543030DD\r\
                 87F1104902043030303097\r87F110490205303030339B";
    gives("0902", kline, KLINE, &number);
    let j1850 = "486B104902010000 0048C5\r486B104902025244544579\r486B10490203535430 3014\r\
                 486B10490204303030302D\r486B104902053030303360";
    gives("0902", j1850, J1850, &number);
    let bare = "49 02 01 00 00 00 48\r49 02 02 52 44 54 45\r49 02 03 53 54 30 30\r\
                49 02 04 30 30 30 30\r49 02 05 30 30 30 33";
    gives("0902", bare, BARE_KLINE, &[("", number[0].1)]);
    let missing = "87F110490201000000481C\r87F11049020353543030DD";
    let reply = gives_nothing("0902", missing, KLINE);
    assert!(matches!(reply.damage[0], Damage::Count(_)));
}

// without headers: length line in hex, then numbered lines of six and seven bytes
#[test]
fn answers_without_headers_are_read() {
    gives("010C", "41 0C 0B B8", BARE_CAN, &[("", "410C0BB8")]);
    gives("010C", "410C0BB8", BARE_KLINE, &[("", "410C0BB8")]);
    let long = "014\r0: 49 02 01 48 52 44\r1: 54 45 53 54 30 30 30\r2: 30 30 30 30 30 30 33";
    let number = "4902014852445445535430303030303030303033";
    gives("0902", long, BARE_CAN, &[("", number)]);
    let repeated = "014\r014\r0:490201485244\r0:490201485244\r1:54455354303030\r2:30303030303033";
    gives("0902", repeated, BARE_CAN, &[("", number)]);
    let padded = "00A\r0:490401414243\r1:44454647000000\r4904 01";
    gives(
        "0904",
        padded,
        BARE_CAN,
        &[("", "49040141424344454647"), ("", "490401")],
    );
    let one_after_the_other = format!("{}\r{}", long, long.replace("48", "58"));
    let reply = reply("0902", &one_after_the_other, BARE_CAN);
    assert_eq!((reply.messages.len(), reply.damage.len()), (2, 0));
}

#[test]
fn long_answers_that_cannot_be_told_apart_are_not_guessed() {
    let interleaved = "014\r0:490201485244\r014\r0:490201585858\r1:54455354303030\r\
                       1:58585858585858\r2:30303030303033\r2:58585858585858";
    let reply = gives_nothing("0902", interleaved, BARE_CAN);
    assert!(!reply.damage.is_empty());
    for incomplete in [
        "014\r0:490201485244\r2:30303030303033",
        "014\r0:490201485244\r1:54455354303030",
        "0:490201485244\r1:54455354303030",
        "014\r0:4902014852\r1:54455354303030\r2:30303030303033",
        "014\r0:490201485244\r1:544553543030\r2:30303030303033",
    ] {
        let reply = gives_nothing("0902", incomplete, BARE_CAN);
        assert!(!reply.damage.is_empty(), "{incomplete:?}");
    }
}

// ISO 14229-1: 78 means that the answer is being prepared
#[test]
fn a_wait_is_told_from_a_final_answer() {
    let from = Some(Address::Can11(0x7E8));
    let waiting = gives_nothing("0902", "7E8037F097800000000", CAN11);
    assert_eq!(waiting.pending, [from]);
    let answered = reply("010C", "7E8037F017800000000\r7E804410C0BB8000000", CAN11);
    assert_eq!((answered.messages.len(), answered.pending.len()), (1, 0));
    let refused = reply("010C", "7E8037F017800000000\r7E8037F011200000000", CAN11);
    assert_eq!(refused.refusals, [Refusal { from, code: 0x12 }]);
    assert_eq!(refused.pending, []);
    let other = reply("010C", "7E9037F017800000000\r7E804410C0BB8000000", CAN11);
    assert_eq!(other.pending, [Some(Address::Can11(0x7E9))]);
    assert_eq!(reply("010C", "83F1107F01787C", KLINE).pending.len(), 1);
    assert_eq!(reply("010C", "7F 01 21", BARE_CAN).pending, [None]);
}

#[test]
fn what_answers_another_question_is_no_answer() {
    for bytes in [
        "7E804410D0BB8000000",
        "7E804460C0BB8000000",
        "7E8037F091200000000",
        "7E80101000000000000",
    ] {
        let reply = gives_nothing("010C", bytes, CAN11);
        assert_eq!(reply.strays, 1, "{bytes}");
    }
}

// which bytes of an answer repeat the request: SAE J1979 (item, for freeze frames before the
// frame number), ISO 14229-1 (two-byte identifier)
#[test]
fn what_an_answer_repeats_depends_on_the_service() {
    for (request, line, payload) in [
        ("010C05", "7E80341055A00000000", "41055A"),
        ("020C00", "7E805420C000BB80000", "420C000BB8"),
        ("0205000C00", "7E804420C000B000000", "420C000B"),
        ("03", "7E80443010133000000", "43010133"),
        ("06A2", "7E80646A20C24000300", "46A20C240003"),
        ("1902FF", "7E8035902FF00000000", "5902FF"),
        ("22F40C", "7E80562F40C1AF80000", "62F40C1AF8"),
    ] {
        gives(request, line, CAN11, &[("7E8", payload)]);
    }
    for (request, line) in [
        ("0205000C00", "7E80442000B0B000000"),
        ("22F40C", "7E80562F40D1AF80000"),
        ("1902FF", "7E8035903FF00000000"),
    ] {
        gives_nothing(request, line, CAN11);
    }
}

#[test]
fn the_adapters_words_are_taken_out() {
    for (bytes, notice) in [
        ("NO DATA", Notice::NoData),
        ("UNABLE TO CONNECT", Notice::UnableToConnect),
        ("BUS BUSY", Notice::BusBusy),
        ("BUS ERROR", Notice::BusError),
        ("CAN ERROR", Notice::CanError),
        ("DATA ERROR", Notice::DataError),
        ("FB ERROR", Notice::FeedbackError),
        ("BUFFER FULL", Notice::BufferFull),
        ("STOPPED", Notice::Stopped),
        ("LV RESET", Notice::LowVoltageReset),
        ("ERR94", Notice::Fault(94)),
        ("?", Notice::NotUnderstood),
        ("BUS INIT: ...ERROR", Notice::BusAsleep),
        ("BUSINIT: ERROR", Notice::BusAsleep),
        ("no data", Notice::NoData),
        ("010C?", Notice::NotUnderstood),
        (
            "SERIAL ADAPTER v3.2",
            Notice::Banner("SERIAL ADAPTER v3.2".into()),
        ),
        ("ACT ALERT", Notice::Unknown("ACT ALERT".into())),
    ] {
        let reply = gives_nothing("010C", bytes, CAN11);
        assert_eq!(reply.notices, [notice], "{bytes}");
        assert_eq!(reply.damage, [], "{bytes}");
    }
}

#[test]
fn damaged_lines_give_no_answer_but_spare_the_others() {
    for line in [
        "7E804410C0B<RX ERROR",
        "486B10410C1AF822<DATA ERROR",
        "7E804410C0",
        "7E804410C0BB80",
        "7E80441G0C0BB8000000",
        "7E804410C\u{FFFD}BB8000000",
        "7F804410C0BB8000000",
        "7E80441",
        "7E8",
        "7E80",
    ] {
        let bytes = format!("{line}\r7E904410C0BB9000000");
        let reply = reply("010C", &bytes, CAN11);
        assert_eq!(
            answers_of(&reply),
            [("7E9".into(), "410C0BB9".into())],
            "{line}"
        );
        assert_eq!(reply.damage.len(), 1, "{line}");
    }
}

#[test]
fn a_lost_byte_shows_when_this_car_fills_its_frames() {
    let full = Form {
        full_frames: true,
        ..CAN11
    };
    // a byte of the mask is missing and its padding took the place
    let line = "7E8064100BE3FA800";
    assert_eq!(reply("0100", line, CAN11).messages.len(), 1);
    assert_eq!(gives_nothing("0100", line, full).damage.len(), 1);
    gives("010C", "7E804410C0BB8000000", full, &[("7E8", "410C0BB8")]);
}

#[test]
fn lines_without_meaning_are_counted() {
    let reply = gives_nothing("010C", "\u{FFFD}\u{FFFD}\u{FFFD}\r....\r#", CAN11);
    assert_eq!(reply.noise, 3);
    assert_eq!(gives_nothing("010C", "", CAN11), Reply::default());
}

#[test]
fn an_overlong_reply_is_damaged() {
    let mut bytes = "A".repeat(70_000);
    bytes.push_str("\r7E804410C0BB8000000");
    let reply = gives_nothing("010C", &bytes, CAN11);
    assert!(reply.damage.iter().any(|d| matches!(d, Damage::TooLong(_))));
}
