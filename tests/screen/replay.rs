//! A capture on the live screen.

use std::fmt::Write;

use rustix::process::Signal;

use super::Terminal;
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
