//! Requests and their ends.

use super::*;

#[test]
fn an_answer_has_its_times_and_lines() {
    let mut script = connected();
    let asked_at = script.now_us;
    let request = [0x01, 0x0C, 0x06];
    script
        .dialogue
        .request(asked_at, &request, Some(1))
        .unwrap();
    script.then(&[("010C061", "7E806410C0BB8067F00\r\r>")]);
    let answer = answer(script.play());
    assert_eq!(answer.request, request);
    assert_eq!(
        answer.messages[0].payload,
        [0x41, 0x0C, 0x0B, 0xB8, 0x06, 0x7F]
    );
    assert_eq!((answer.lines, answer.damaged), (1, 0));
    assert_eq!(answer.asked_at_us, asked_at);
    assert_eq!(answer.answered_at_us, asked_at + 10_000);
    assert!(script.dialogue.is_ready());
    assert_eq!(script.dialogue.counts().answers, 1);
}

#[test]
fn a_second_request_has_to_wait() {
    let mut script = connected();
    let now = script.now_us;
    script.dialogue.request(now, &SPEED, None).unwrap();
    assert!(script.dialogue.request(now, &SPEED, None).is_err());
    assert!(connected().dialogue.request(now, &[], None).is_err());
}

#[test]
fn no_is_an_answer_too() {
    let mut script = connected();
    let refused = no_answer(script.ask(&SPEED, &[("010C", "7E8037F011200000000\r\r>")]));
    assert_eq!(refused.why.to_string(), "negative:12");
    let silent = no_answer(script.ask(&SPEED, &[("010C", "NO DATA\r\r>")]));
    assert_eq!(silent.why, Why::Adapter(Notice::NoData));
    assert_eq!(silent.why.to_string(), "NO DATA");
}

// ISO 14229-1: after 78 the answer may take seconds; it comes either in the same reply or when
// asked again
#[test]
fn a_controller_that_asks_to_wait_is_waited_for() {
    let wait = "7E8037F097800000000\r";
    let number = "7E81014490201485244\r7E82154455354303030\r7E82230303030303033\r\r>";
    let whole: &'static str = format!("{wait}{number}").leak();
    let waiting: &'static str = format!("{wait}\r>").leak();
    let mut script = connected();
    assert_eq!(
        answer(script.ask(&[0x09, 0x02], &[("0902", whole)]))
            .messages
            .len(),
        1
    );
    let turns = [("0902", waiting), ("0902", waiting), ("0902", number)];
    assert_eq!(answer(script.ask(&[0x09, 0x02], &turns)).messages.len(), 1);
}

/// Makes a request that gets this reply however often it is made. Gives the events and how long it took, µs.
fn stall(script: &mut Script, request: &[u8], reply: &'static [u8]) -> (Vec<Event>, u64) {
    let begun_us = script.now_us;
    script
        .dialogue
        .request(script.now_us, request, None)
        .unwrap();
    while !script.dialogue.is_ready() {
        if script.dialogue.poll_transmit().is_some() {
            script.now_us += 10_000;
            script.dialogue.handle_bytes(script.now_us, reply);
        } else {
            script.now_us = script.dialogue.next_deadline().unwrap();
            script.dialogue.handle_timeout(script.now_us);
        }
    }
    let events = std::iter::from_fn(|| script.dialogue.poll_event()).collect();
    (events, script.now_us - begun_us)
}

// ISO 14229-2: 5 s at the longest until the answer or another request to wait; one that never answers is out of order
#[test]
fn a_car_that_keeps_asking_to_wait_is_reported_once_and_waited_for_briefly_from_then_on() {
    let wait = b"7E8037F017800000000\r\r>";
    let mut script = connected();
    let (events, took_us) = stall(&mut script, &SPEED, wait);
    assert_eq!(story(&events), ["negative:78", "keeps waiting"]);
    let Some(Event::CarKeepsWaiting { words }) = events.last() else {
        panic!("{events:?}");
    };
    assert!(
        words.contains("7E8") && words.contains("turn the ignition off"),
        "{words}"
    );
    assert!((5_000_000..7_000_000).contains(&took_us), "{took_us}");
    let (events, took_us) = stall(&mut script, &SPEED, wait);
    assert_eq!(story(&events), ["negative:78"]);
    assert!(took_us < 1_000_000, "{took_us}");
    let events = script.ask(&SPEED, &[("010C", SPEED_REPLY)]);
    assert_eq!(story(&events), ["recovered", "answer"]);
}

// one controller that stalls must not hold up the answers of another
#[test]
fn beside_an_answer_a_controller_that_stalled_before_is_not_waited_for() {
    let reply = b"7E804410C0BB8000000\r7E9037F017800000000\r\r>";
    let mut script = connected();
    let (events, _) = stall(&mut script, &SPEED, reply);
    assert_eq!(story(&events), ["answer", "keeps waiting"]);
    let (events, took_us) = stall(&mut script, &SPEED, reply);
    assert_eq!(
        (story(&events), took_us),
        (vec!["answer".to_owned()], 10_000)
    );
}

#[test]
fn a_wait_without_end_is_given_up() {
    let mut script = connected();
    let mut dialogue_turns = 0;
    script
        .dialogue
        .request(script.now_us, &SPEED, None)
        .unwrap();
    let begun = script.now_us;
    let why = loop {
        if script.dialogue.poll_transmit().is_some() {
            dialogue_turns += 1;
            script.now_us += 10_000;
            let wait = b"7E8037F017800000000\r\r>";
            script.dialogue.handle_bytes(script.now_us, wait);
        }
        match script.dialogue.poll_event() {
            Some(Event::NoAnswer(no_answer)) => break no_answer.why,
            Some(other) => panic!("{other:?}"),
            None => {}
        }
        script.now_us = script.dialogue.next_deadline().unwrap();
        script.dialogue.handle_timeout(script.now_us);
    };
    assert_eq!(why, Why::StillPending);
    assert!(dialogue_turns < 50 && script.now_us - begun < 10_000_000);
}

// SAE J1979 on ISO 9141-2: one parameter a request, the identification number in five counted
// messages
#[test]
fn a_kline_car_is_asked_and_its_bus_may_fall_asleep() {
    let mut script = set_up(&[
        ("0100", "BUS INIT: ...OK\r486B104100BE3EB810C8\r\r>"),
        ("ATDPN", "A3\r\r>"),
        ("0100", "486B104100BE3EB810C8\r\r>"),
        ("0900", "486B104900015400000061\r\r>"),
    ]);
    connection(script.play());
    let number = "486B10490201000000 4857\r486B1049020252445445 3F\r486B1049020353543030 18\r\
                  486B1049020430303030 D2\r486B1049020530303033 D6\r\r>";
    let number = answer(script.ask(&[0x09, 0x02], &[("0902", number)]));
    assert_eq!(number.messages[0].payload, b"\x49\x02\x01HRDTEST0000000003");

    script
        .dialogue
        .request(script.now_us, &SPEED, None)
        .unwrap();
    assert_eq!(script.dialogue.poll_transmit().unwrap(), b"010C\r");
    script.dialogue.handle_bytes(script.now_us, b"BUS INIT: ");
    script.now_us += 5_000_000;
    script.dialogue.handle_timeout(script.now_us);
    let rest = b"...OK\r486B10410C1AF822\r\r>";
    script.dialogue.handle_bytes(script.now_us, rest);
    assert_eq!(
        answer(script.play()).messages[0].payload,
        [0x41, 0x0C, 0x1A, 0xF8]
    );
    let asleep = script.ask(&SPEED, &[("010C", "BUS INIT: ...ERROR\r\r>")]);
    assert_eq!(no_answer(asleep).why, Why::Adapter(Notice::BusAsleep));
}

#[test]
fn a_car_that_falls_silent_is_reported_once() {
    let mut script = connected();
    let silent = |script: &mut Script| script.ask(&SPEED, &[("010C", "NO DATA\r\r>")]);
    let all: Vec<Event> = (0..20).flat_map(|_| silent(&mut script)).collect();
    let story = story(&all);
    assert_eq!(story.iter().filter(|word| *word == "car silent").count(), 1);
    let events = script.ask(&SPEED, &[("010C", SPEED_REPLY)]);
    assert_eq!(self::story(&events), ["recovered", "answer"]);
    assert_eq!(
        self::story(&script.ask(&SPEED, &[("010C", SPEED_REPLY)])),
        ["answer"]
    );
}

#[test]
fn losing_the_port_ends_the_request() {
    let mut script = connected();
    script
        .dialogue
        .request(script.now_us, &SPEED, None)
        .unwrap();
    script.dialogue.handle_lost(script.now_us);
    assert_eq!(no_answer(script.play()).why, Why::LinkLost);
    assert_eq!(script.dialogue.next_deadline(), None);
    assert!(
        script
            .dialogue
            .request(script.now_us, &SPEED, None)
            .is_err()
    );
}
