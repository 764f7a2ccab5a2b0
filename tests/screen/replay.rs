//! A capture on the live screen.

use std::fmt::Write;

use rustix::process::Signal;

use super::{Terminal, keys};
use crate::harness::Workbench;

const SIZE: (u16, u16) = (100, 30);

/// Ten minutes of warm idle with marks at 2:00 and 5:00, four answers a second.
fn idle() -> String {
    let mut text = "# capture 1\n# {\"vehicle\":{\"label\":\"van 3\",\"cylinders\":4}}\n\
        t_us,kind,ecu,request,response\n"
        .to_owned();
    for quarter in 0..=2400_u64 {
        let t_us = quarter * 250_000;
        match quarter {
            480 => writeln!(text, "{t_us},mark,,,hose pulled off").unwrap(),
            1200 => writeln!(text, "{t_us},mark,,,hose back on").unwrap(),
            _ => {}
        }
        // 800 rpm, load 25 %, standing, coolant 85 °C; closed loop, corrections 0 % and +3.1 %
        let answer = match quarter % 2 {
            0 => "010C040D05,410C0C8004400D00057D",
            _ => "01030607,4103020006800784",
        };
        writeln!(text, "{t_us},data,7E8,{answer}").unwrap();
    }
    text
}

fn replay(bench: &Workbench, more: &[&str]) -> Terminal {
    bench.file("idle.capture.csv", idle());
    let arguments = [&["replay", "idle.capture.csv"], more].concat();
    let mut terminal = Terminal::start(bench, SIZE, &arguments);
    terminal.wait_for("van 3");
    assert!(terminal.screen().alternate_screen());
    assert!(terminal.screen().hide_cursor());
    terminal
}

#[test]
fn the_end_key_and_a_signal_to_end_give_the_terminal_back() {
    let bench = Workbench::new();
    let mut terminal = replay(&bench, &[]);
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    terminal.assert_given_back();
    for signal in [Signal::TERM, Signal::INT, Signal::HUP] {
        let mut terminal = replay(&bench, &[]);
        terminal.signal(signal);
        assert!(terminal.wait_for_end().success(), "{signal:?}");
        terminal.assert_given_back();
    }
}

#[test]
fn a_screen_whose_terminal_is_closed_ends() {
    let bench = Workbench::new();
    let mut terminal = replay(&bench, &[]);
    terminal.lose();
    // in order, or telling nobody that there is no terminal; neither killed nor panicking
    let status = terminal.wait_for_end();
    assert!(matches!(status.code(), Some(0..=2)), "{status}");
}

#[test]
fn the_screen_follows_the_size_of_the_terminal() {
    let bench = Workbench::new();
    let mut terminal = replay(&bench, &[]);
    let bottom = |text: &str| text.lines().count();
    terminal.wait_until("keys in the last line", |text| bottom(text) == 30);
    terminal.resize(80, 24);
    terminal.wait_until("keys in line 24", |text| {
        bottom(text) == 24 && text.lines().all(|line| line.chars().count() <= 80)
    });
    terminal.resize(140, 45);
    terminal.wait_until("keys in line 45", |text| bottom(text) == 45);
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
}

#[test]
fn a_capture_is_played_as_fast_as_asked_for() {
    let bench = Workbench::new();
    let mut terminal = replay(&bench, &["--speed", "200"]);
    terminal.wait_for("hose pulled off");
    terminal.wait_for("hose back on");
    terminal.wait_for("10:00 of 10:00");
}

/// Standing still at the beginning.
fn standing(bench: &Workbench, more: &[&str]) -> Terminal {
    let mut terminal = replay(bench, &[&["--speed", "0.125"], more].concat());
    terminal.send(" ");
    terminal.wait_for("paused");
    terminal.send(keys::HOME);
    terminal.wait_for("0:00 of 10:00");
    terminal
}

#[test]
fn keys_lead_to_any_time_and_mark() {
    let bench = Workbench::new();
    let mut terminal = standing(&bench, &[]);
    terminal.wait_for("2:00 >");
    for (key, at, shown) in [
        (keys::RIGHT, "0:10", "2:00 >"),
        (keys::PAGE_DOWN, "1:10", "bank 1"),
        (">", "2:00", "hose pulled off"),
        (">", "5:00", "hose back on"),
        ("<", "2:00", "5:00 >"),
        (".", "2:01", "< 2:00"),
        (",", "2:00", "5:00 >"),
        (keys::LEFT, "1:50", "2:00 >"),
        (keys::PAGE_UP, "0:50", "2:00 >"),
        (keys::END, "10:00", "at the end"),
        (keys::HOME, "0:00", "2:00 >"),
    ] {
        terminal.send(key);
        terminal.wait_until(&format!("{at} and {shown}"), |text| {
            let at = format!(" {at} of 10:00");
            text.contains(&at) && text.contains(shown)
        });
    }
    // what has not happened yet at the beginning is gone again
    terminal.wait_until("no mark", |text| !text.contains("hose"));
}

#[test]
fn a_typed_time_is_gone_to() {
    let bench = Workbench::new();
    let mut terminal = standing(&bench, &[]);
    terminal.send("t");
    terminal.wait_for("Go to: ▏  as 12:30");
    // what is no time yet can be typed on; q and blanks cannot stand in one
    terminal.send("4q:\r");
    terminal.wait_for("Go to: 4:▏  as 12:30");
    terminal.send("5 0");
    terminal.wait_for("Enter goes to 4:50");
    terminal.send("\r");
    terminal.wait_for(" 4:50 of 10:00");
    // beyond the end is the end; the keys are there again
    terminal.send("t1:00:00\r");
    terminal.wait_for("at the end");
    terminal.wait_for("t time");
    // Esc leaves the place as it is
    terminal.send("t3");
    terminal.wait_for("Enter goes to 3:00");
    terminal.send("\x1b");
    terminal.wait_for("t time");
    assert!(terminal.text().contains("at the end"));
}

#[test]
fn speed_is_doubled_and_halved_within_its_limits() {
    let bench = Workbench::new();
    let mut terminal = standing(&bench, &[]);
    for (key, speed) in [("-", "0.125"), ("+", "0.25"), ("+", "0.5"), ("-", "0.25")] {
        terminal.send(key);
        terminal.wait_for(&format!(" {speed}× speed"));
    }
    terminal.send(&"+".repeat(20));
    terminal.wait_for(" 1024× speed");
    for wrong in ["0", "-1", "2000", "NaN", "fast"] {
        let refused = bench
            .pintle(["replay", "idle.capture.csv", &format!("--speed={wrong}")])
            .assert();
        refused.code(2);
    }
}

#[test]
fn at_the_end_the_pause_key_begins_again() {
    let bench = Workbench::new();
    let mut terminal = standing(&bench, &[]);
    terminal.send(keys::END);
    terminal.wait_for("at the end");
    terminal.send(" ");
    terminal.wait_for("playing, 0.125× speed");
    terminal.wait_for("0:00 of 10:00");
}

#[test]
fn a_replay_begins_where_asked_for_with_the_vehicle_asked_for() {
    let bench = Workbench::new();
    bench.file("other.toml", "label = \"blue estate\"\n");
    bench.file("idle.capture.csv", idle());
    let arguments = [
        "replay",
        "idle.capture.csv",
        "--from",
        "3m",
        "--vehicle",
        "other.toml",
    ];
    let mut terminal = Terminal::start(&bench, SIZE, &arguments);
    terminal.wait_for("blue estate");
    terminal.wait_for("3:00 of 10:00");
    terminal.wait_for("hose pulled off");
}

#[test]
fn the_keys_are_explained_on_a_page_of_their_own() {
    let bench = Workbench::new();
    let mut terminal = standing(&bench, &[]);
    terminal.send("?");
    terminal.wait_for("To the mark before or after.");
    // in a window that is too low, the page says that there is more of it
    terminal.resize(80, 24);
    terminal.wait_for("Enlarge the window to read the rest");
    terminal.resize(120, 40);
    terminal.wait_for("the file is still being read.");
    assert!(!terminal.text().contains("Enlarge the window"));
    terminal.send("?");
    terminal.wait_until("the panels", |text| text.contains("Fuel trim %"));
}

#[test]
fn a_compressed_capture_plays_to_the_same_screen() {
    use flate2::{Compression, write::GzEncoder};
    use std::io::Write as _;

    let bench = Workbench::new();
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(idle().as_bytes()).unwrap();
    bench.file("idle.capture.csv.gz", encoder.finish().unwrap());
    let mut plain = standing(&bench, &[]);
    let arguments = ["replay", "idle.capture.csv.gz", "--speed", "0.125"];
    let mut compressed = Terminal::start(&bench, SIZE, &arguments);
    compressed.send(" ");
    compressed.wait_for("paused");
    for terminal in [&mut plain, &mut compressed] {
        terminal.send(keys::END);
        terminal.wait_for("10:00 of 10:00");
        terminal.send("<");
        terminal.wait_for("5:00 of 10:00");
        // the judgement follows when it is made
        terminal.wait_for("from 298 s that count");
    }
    assert_eq!(plain.text(), compressed.text());
}
