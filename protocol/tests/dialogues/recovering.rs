//! Steps of recovery and what is said about them.

use super::*;

/// The events of one request as a story.
fn ask(script: &mut Script, turns: &Turns) -> Vec<String> {
    story(&script.ask(&SPEED, turns))
}

#[test]
fn a_damaged_answer_is_asked_for_again() {
    for reply in [
        "7E804410C0B<RX ERROR\r\r>",
        "7E804410C0\r\r>",
        "7E804410D0BB8000000\r\r>",
        "DATA ERROR\r\r>",
        "BUFFER FULL\r\r>",
        "BUS BUSY\r\r>",
        "STOPPED\r\r>",
        "\r\r>",
    ] {
        let mut script = connected();
        let story = ask(&mut script, &[("010C", reply), ("010C", SPEED_REPLY)]);
        assert_eq!(story, ["AskAgain", "recovered", "answer"], "{reply:?}");
    }
}

#[test]
fn what_one_controller_said_does_not_hide_that_the_other_was_damaged() {
    let mut script = connected();
    let both = "7E804410C0BB8000000\r7E904410C0BB8000000\r\r>";
    let half = "7E804410C0B\r7E904410C0BB8000000\r\r>";
    let events = script.ask(&SPEED, &[("010C", half), ("010C", both)]);
    let Some(Event::Answer(answer)) = events.last() else {
        panic!("{events:?}");
    };
    assert_eq!(answer.messages.len(), 2);
}

#[test]
fn a_wrong_number_of_expected_lines_is_not_repeated() {
    let mut script = connected();
    script
        .dialogue
        .request(script.now_us, &[0x09, 0x02], Some(1))
        .unwrap();
    let number = "7E81014490201485244\r7E82154455354303030\r7E82230303030303033\r\r>";
    script.then(&[("09021", "7E81014490201485244\r\r>"), ("0902", number)]);
    assert_eq!(story(&script.play()), ["AskAgain", "recovered", "answer"]);
}

#[test]
fn a_frame_shorter_than_this_car_sends_is_damaged() {
    let mut script = connected();
    let story = ask(
        &mut script,
        &[("010C", "7E804410C0BB8\r\r>"), ("010C", SPEED_REPLY)],
    );
    assert_eq!(story, ["AskAgain", "recovered", "answer"]);
}

#[test]
fn damage_that_stays_ends_the_request_and_after_three_the_adapter_is_flushed() {
    let mut script = connected();
    let bad = ("010C", "7E804410C0\r\r>");
    for _ in 0..2 {
        let story = ask(&mut script, &[bad, bad]);
        assert_eq!(story[0], "AskAgain");
        assert!(story[1].starts_with("damaged:"), "{story:?}");
        assert_eq!(story.len(), 2);
    }
    let story = ask(
        &mut script,
        &[bad, bad, ("", "\r\r>"), ("010C", SPEED_REPLY)],
    );
    assert_eq!(story, ["AskAgain", "Flush", "recovered", "answer"]);
}

#[test]
fn a_lost_prompt_is_flushed_out() {
    let mut script = connected();
    let story = ask(
        &mut script,
        &[
            ("010C", "7E804410C0BB8000000\r\r"),
            ("", "7E804410C0BB8000000\r\r>"),
            ("010C", SPEED_REPLY),
        ],
    );
    assert_eq!(story, ["Flush", "recovered", "answer"]);
}

#[test]
fn a_hanging_adapter_is_restarted() {
    let mut script = connected();
    script.then(&[
        ("010C", SILENCE),
        ("", SILENCE),
        ("ATE0", SILENCE),
        ("ATE0", SILENCE),
    ]);
    script
        .then(&[("ATWS", "ATWS\r\r\rSERIAL ADAPTER v3.2\r\r>")])
        .then(&SETTINGS);
    script.then(&[("ATSP6", "OK\r\r>")]);
    let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
    assert_eq!(
        story,
        ["Flush", "ApplySettings", "SoftReset", "recovered", "answer"]
    );
}

#[test]
fn an_adapter_that_stays_silent_needs_its_port_opened_again() {
    let mut script = connected();
    let begun = script.now_us;
    script.then(&[
        ("010C", SILENCE),
        ("", SILENCE),
        ("ATE0", SILENCE),
        ("ATE0", SILENCE),
    ]);
    let story = ask(&mut script, &[("ATWS", SILENCE), ("ATWS", SILENCE)]);
    assert_eq!(
        story,
        [
            "Flush",
            "ApplySettings",
            "SoftReset",
            "Reopen",
            "link lost",
            "reopen"
        ]
    );
    assert!(script.now_us - begun < 15_000_000, "bounded");
    assert_eq!(script.dialogue.next_deadline(), None);
    script.dialogue.handle_opened(script.now_us);
    script
        .then(&[RESET])
        .then(&SETTINGS)
        .then(&ABOUT)
        .then(&CAN_CAR);
    connection(script.play());
}

#[test]
fn words_say_what_happens() {
    let mut script = connected();
    let events = script.ask(&SPEED, &[("010C", "BUS BUSY\r\r>"), ("010C", SPEED_REPLY)]);
    let Event::LinkTrouble { step, words } = &events[0] else {
        panic!("{events:?}");
    };
    assert_eq!(*step, RecoveryStep::AskAgain);
    assert_eq!(words, "the car's bus is busy all the time; asking again");
}

#[test]
fn an_adapter_that_started_over_gets_its_settings_back() {
    for reply in [
        "LV RESET\r\r>",
        "SERIAL ADAPTER v3.2\r\r>",
        // echo is on again: the banner was lost
        "010C\r41 0C 0B B8 \r\r>",
    ] {
        let mut script = connected();
        script
            .then(&[("010C", reply)])
            .then(&SETTINGS)
            .then(&[("ATSP6", "OK\r\r>")]);
        let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
        assert_eq!(story, ["restarted", "recovered", "answer"], "{reply:?}");
    }
}

#[test]
fn a_restart_while_nothing_is_asked_is_noticed() {
    let mut script = connected();
    script
        .dialogue
        .handle_bytes(script.now_us, b"\r\rSERIAL ADAPTER v3.2\r\r>");
    assert!(!script.dialogue.is_ready());
    script.then(&SETTINGS).then(&[("ATSP6", "OK\r\r>")]);
    assert_eq!(story(&script.play()), ["restarted", "recovered"]);
    assert!(script.dialogue.is_ready());
}

#[test]
fn restarting_without_end_is_bounded() {
    let mut script = connected();
    let restart = ("010C", "LV RESET\r\r>");
    for _ in 0..2 {
        script
            .then(&[restart])
            .then(&SETTINGS)
            .then(&[("ATSP6", "OK\r\r>")]);
    }
    // the second restart climbs on to the soft reset
    let place = script
        .turns
        .iter()
        .rposition(|turn| turn.0 == "ATE0")
        .unwrap();
    script
        .turns
        .insert(place, ("ATWS", "SERIAL ADAPTER v3.2\r\r>"));
    let story = ask(&mut script, &[restart]);
    assert_eq!(
        story,
        [
            "restarted",
            "restarted",
            "SoftReset",
            "restarted",
            "Reopen",
            "link lost",
            "reopen"
        ]
    );
}

// Clearing changes something in the car: it is said once, and nothing may repeat it by
// accident.
#[test]
fn a_clear_request_is_never_said_twice() {
    let clear = [0x04];
    let mut script = connected();
    let events = script.ask(&clear, &[("04", "BUS BUSY\r\r>")]);
    assert_eq!(no_answer(events).why, Why::Adapter(Notice::BusBusy));
    let waiting = script.ask(&clear, &[("04", "7E8037F047800000000\r\r>")]);
    assert_eq!(no_answer(waiting).why, Why::StillPending);

    let mut script = connected();
    script.then(&[("04", SILENCE), ("ATWS", "SERIAL ADAPTER v3.2\r\r>")]);
    script.then(&SETTINGS);
    let events = script.ask(&clear, &[("ATSP6", "OK\r\r>")]);
    assert_eq!(story(&events), ["link lost", "SoftReset", "recovered"]);
}

#[test]
fn no_lone_line_end_follows_a_clear_request() {
    let mut script = connected();
    answer(script.ask(&[0x04], &[("04", "7E80144000000000000\r\r>")]));
    script
        .then(&[("010C", SILENCE)])
        .then(&SETTINGS)
        .then(&[("ATSP6", "OK\r\r>")]);
    let story = ask(&mut script, &[("010C", SPEED_REPLY)]);
    assert_eq!(story, ["ApplySettings", "recovered", "answer"]);
}
