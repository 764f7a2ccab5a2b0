//! Ways on which there is no connection, and what is said.

use super::*;

#[test]
fn a_silent_port() {
    let mut script = Script::open(&[("ATZ", SILENCE), ("ATZ", SILENCE)]);
    assert_eq!(failure(script.play()), SetupFailure::AdapterSilent);
    assert!(script.now_us <= 10_000_000, "it is known within seconds");
    assert!(!script.dialogue.is_ready());
}

#[test]
fn a_port_of_another_speed() {
    let mut script = Script::open(&[("ATZ", "\u{FE}\u{F8}x\u{80}"), ("ATZ", "\u{FE}\u{F8}")]);
    assert_eq!(failure(script.play()), SetupFailure::NotReadable);
}

#[test]
fn devices_that_are_no_adapter() {
    let not_an_adapter = |heard: &str| SetupFailure::NotAnAdapter {
        received: heard.to_owned(),
    };
    // one that sends back what it hears, one that takes the reset for its own, one with a
    // prompt of its own
    let mut script = Script::open(&[("ATZ", "ATZ\r"), ("ATZ", "ATZ\r")]);
    assert_eq!(failure(script.play()), not_an_adapter("ATZ"));
    let mut script = Script::open(&[("ATZ", "ATZ\r\r\nOK\r\n"), ("ATZ", "\r\nOK\r\n")]);
    assert_eq!(failure(script.play()), not_an_adapter("OK"));
    let no = |said| (said, "bad command\r\nrouter>");
    let mut script = Script::open(&[no("ATZ"), no("ATZ"), no("ATE0"), no("ATL0"), no("ATS0")]);
    script.then(&[no("ATH1"), no("ATAT1")]);
    assert_eq!(failure(script.play()), not_an_adapter("bad command"));
}

#[test]
fn a_device_that_never_stops_talking() {
    let mut dialogue = Dialogue::new(Settings::default());
    dialogue.handle_opened(0);
    let mut now_us = 0;
    let event = loop {
        dialogue.poll_transmit();
        if let Some(event) = dialogue.poll_event() {
            break event;
        }
        now_us += 100_000;
        assert!(now_us < 60_000_000, "it must end within a minute");
        dialogue.handle_bytes(now_us, b"$POSITION,12.5,N\r\n");
        dialogue.handle_timeout(now_us);
    };
    let failure = SetupFailure::NotAnAdapter {
        received: "$POSITION,12.5,N".to_owned(),
    };
    assert_eq!(event, Event::SetupFailed(failure));
}

// ISO 14229-1, reason 78: the answer comes later; here it never does
#[test]
fn a_car_that_keeps_asking_to_wait() {
    let wait = ("0100", "7E8037F017800000000\r\r>");
    let mut script = set_up(&[]);
    for _ in 0..26 {
        script.then(&[wait, ("ATDPN", "A6\r\r>")]);
    }
    assert_eq!(failure(script.play()), SetupFailure::CarKeepsWaiting);
    // the bus is found, then it stalls
    let mut script = set_up(&CAN_CAR[..2]);
    script.then(&[wait; 26]);
    assert_eq!(failure(script.play()), SetupFailure::CarKeepsWaiting);
    assert!(script.now_us < 10_000_000, "{}", script.now_us);
}

#[test]
fn a_car_that_does_not_answer() {
    for (reply, notice) in [
        (
            "SEARCHING...\rUNABLE TO CONNECT\r\r>",
            Notice::UnableToConnect,
        ),
        ("NO DATA\r\r>", Notice::NoData),
        ("SEARCHING...BUS INIT: ...ERROR\r\r>", Notice::BusAsleep),
    ] {
        // neither by service 01 nor as newer cars do
        let mut script = set_up(&[("0100", reply), ("22F400", "NO DATA\r\r>")]);
        let silent = SetupFailure::CarSilent {
            notice,
            voltage: Some(12.6),
        };
        assert_eq!(failure(script.play()), silent);
    }
    let trouble = [("0100", "CAN ERROR\r\r>"), ("ATDPN", "A6\r\r>")];
    let mut script = set_up(&trouble);
    script.then(&trouble);
    let silent = SetupFailure::CarSilent {
        notice: Notice::CanError,
        voltage: Some(12.6),
    };
    assert_eq!(failure(script.play()), silent);
}

#[test]
fn a_car_whose_answer_cannot_be_read() {
    let unreadable = [("0100", "12345\r\r>"), ("ATDPN", "A6\r\r>")];
    let mut script = set_up(&unreadable);
    script.then(&unreadable);
    let line = "12345".to_owned();
    assert_eq!(
        failure(script.play()),
        SetupFailure::AnswerNotReadable { line }
    );
}

#[test]
fn opening_again_begins_anew() {
    let mut script = Script::open(&[("ATZ", SILENCE), ("ATZ", SILENCE)]);
    failure(script.play());
    script.dialogue.handle_opened(script.now_us);
    script
        .then(&[RESET])
        .then(&SETTINGS)
        .then(&ABOUT)
        .then(&CAN_CAR);
    connection(script.play());
}

#[test]
fn a_search_may_take_its_time() {
    let mut dialogue = Dialogue::new(Settings::default());
    dialogue.handle_opened(0);
    let replies = [RESET].into_iter().chain(SETTINGS).chain(ABOUT);
    for (_, reply) in replies {
        dialogue.poll_transmit().unwrap();
        dialogue.handle_bytes(0, reply.as_bytes());
    }
    assert_eq!(dialogue.poll_transmit().unwrap(), b"0100\r");
    dialogue.handle_bytes(100_000, b"SEARCHING...");
    assert!(dialogue.next_deadline().unwrap() >= 30_000_000);
    dialogue.handle_timeout(20_000_000);
    dialogue.handle_bytes(25_000_000, b"\r7E8064100BE3FA81300\r\r>");
    assert_eq!(dialogue.poll_transmit().unwrap(), b"ATDPN\r");
}
