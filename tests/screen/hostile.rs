//! A capture whose texts a terminal would obey, on the live screen; and bold letters, which are our own.

use super::{Terminal, keys};
use crate::{
    harness::Workbench,
    hostile_text::{capture, is_obeyed},
    job::stored,
};

#[test]
fn texts_of_a_capture_are_shown_and_not_obeyed() {
    let bench = Workbench::new();
    let words = "van\x1b[2J\x1b]0;owned\x07\u{9b}31m\u{202e}3\u{200b}";
    bench.file("a.capture.csv", capture(words));
    let mut terminal = Terminal::start(&bench, (100, 30), &["replay", "a.capture.csv"]);
    // the emulator leaves out the signs that stand for what is not shown
    let shown = "van[2J]0;owned31m3";
    terminal.wait_until("the title", |text| text.starts_with(shown));
    terminal.send(keys::END);
    terminal.wait_for(&format!("mark  {shown}"));
    terminal.wait_for(&format!("link  {shown}"));
    assert!(
        terminal
            .text()
            .lines()
            .all(|line| !line.contains(is_obeyed))
    );
    terminal.send("q");
    assert!(terminal.wait_for_end().success());
    terminal.assert_given_back();
}

#[test]
fn the_finding_alone_stands_in_bold_letters() {
    let bench = Workbench::new();
    let capture = stored("van3-healthy.capture.csv.gz");
    let arguments = ["diagnose", capture.to_str().unwrap()];
    let is_bold = |environment: &[(&str, &str)]| {
        let mut terminal = Terminal::start_in(&bench, (100, 90), &arguments, environment);
        assert!(terminal.wait_for_end().success());
        let bold = |row| terminal.screen().cell(row, 0).unwrap().bold();
        (bold(0), (1..90).any(bold))
    };
    assert_eq!(is_bold(&[]), (true, false));
    assert_eq!(is_bold(&[("NO_COLOR", "1")]), (false, false));
}
