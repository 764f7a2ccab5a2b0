//! Whole screens as they were looked at and found right, in three sizes and without colour.
//!
//! The capture is made up by hand, so that a reader can tell what must stand on the screen. A screen that is meant to
//! change is written anew with `UPDATE_SCREENS=1`, and looked at before it is kept; the causes change with every
//! improvement of the diagnosis.

use std::{
    fmt::Write,
    fs,
    path::{Path, PathBuf},
    time::Duration,
};

use super::{Terminal, keys};
use crate::harness::Workbench;

/// Twelve minutes of a six-cylinder: cold, idling, at 2500 rpm, on the road. Bank 1 wants 12 % more fuel than bank 2, and
/// cylinder 3 misfires once in ten seconds.
fn capture() -> String {
    let mut text =
        "# capture 1\n# {\"vehicle\":{\"label\":\"wagon 2\",\"banks\":[[1,2,3],[4,5,6]]}}\n\
        t_us,kind,ecu,request,response\n0,mark,,,recording starts\n"
            .to_owned();
    for quarter in 0..2880_u32 {
        let t_us = u64::from(quarter) * 250_000;
        let second = quarter / 4;
        // a little of the swing that every closed loop has
        let swing = [0, 1, 1, 0, -1, -1][quarter as usize % 6];
        let (rpm, load_pct, speed) = match second {
            ..360 => (700, 25, 0),
            360..480 => (2500, 26, 0),
            _ => (1800 + 10 * (second % 40), 35, 60),
        };
        let coolant_c = 60 + (second / 2).min(30);
        let rpm = 4 * rpm;
        let load = load_pct * 255 / 100;
        let mut row = |request: &str, response: &str| {
            writeln!(text, "{t_us},data,7E8,{request},{response}").unwrap();
        };
        match quarter % 4 {
            0 => row(
                "010C040D05",
                &format!(
                    "410C{rpm:04X}04{load:02X}0D{speed:02X}05{:02X}",
                    coolant_c + 40
                ),
            ),
            1 | 3 => row(
                "01060708",
                &format!("4106{:02X}078C08{:02X}", 0x83 + swing, 0x80 - swing),
            ),
            _ => row("010903", "4109800302"),
        }
        if quarter % 40 == 39 {
            for cylinder in 1..=6_u32 {
                let count = if cylinder == 3 { second / 10 } else { 0 };
                let monitor = 0xA1 + cylinder;
                row(
                    &format!("06{monitor:02X}"),
                    &format!("46{monitor:02X}0C24{count:04X}0000FFFF"),
                );
            }
        }
        match quarter {
            1440 => writeln!(text, "{t_us},mark,,,mark 1: at 2500 rpm").unwrap(),
            2000 => writeln!(text, "{t_us},link,,,lost: the adapter is gone").unwrap(),
            2001 => writeln!(text, "{t_us},link,,,restored").unwrap(),
            _ => {}
        }
    }
    text
}

/// The replay at its end, judged to its end.
fn screen(columns: u16, rows: u16, environment: &[(&str, &str)]) -> Terminal {
    let bench = Workbench::new();
    bench.file("a.capture.csv", capture());
    let arguments = ["replay", "a.capture.csv"];
    let mut terminal = Terminal::start_in(&bench, (columns, rows), &arguments, environment);
    terminal.wait_for("wagon 2");
    terminal.send(keys::END);
    terminal.wait_for("at the end");
    // of 720: not those while the coolant climbs and for the minute after, not those around driving off, and not the last
    // three, which are judged when the next are known
    terminal.wait_for("from 593 s that count");
    terminal
}

/// The screen, no blanks at the line ends.
fn compared(text: &str) -> String {
    let lines = text.lines();
    lines.map(|line| format!("{}\n", line.trim_end())).collect()
}

fn kept(columns: u16, rows: u16) -> PathBuf {
    let name = format!("tests/screen/golden/{columns}x{rows}.txt");
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Waits until the screen is the one that is kept; what is drawn comes in pieces.
fn assert_kept(terminal: &mut Terminal, columns: u16, rows: u16) {
    let path = kept(columns, rows);
    let kept = fs::read_to_string(&path).unwrap_or_default();
    terminal.wait_until(
        &format!("screen as in {}:\n{kept}", path.display()),
        |text| compared(text) == kept,
    );
}

#[test]
fn screens_are_as_they_were_found_right() {
    for (columns, rows) in [(80, 24), (120, 40), (200, 60)] {
        let mut terminal = screen(columns, rows, &[]);
        if std::env::var_os("UPDATE_SCREENS").is_some() {
            terminal.look_for(Duration::from_secs(2));
            fs::write(kept(columns, rows), compared(&terminal.text())).unwrap();
        }
        assert_kept(&mut terminal, columns, rows);
    }
}

#[test]
fn without_colour_the_screen_says_the_same() {
    let has_colour = |terminal: &Terminal| {
        let cells = (0..24).flat_map(|row| (0..80).map(move |column| (row, column)));
        cells.into_iter().any(|(row, column)| {
            let cell = terminal.screen().cell(row, column).unwrap();
            cell.fgcolor() != vt100::Color::Default || cell.bgcolor() != vt100::Color::Default
        })
    };
    let mut plain = screen(80, 24, &[("NO_COLOR", "1")]);
    assert_kept(&mut plain, 80, 24);
    assert!(!has_colour(&plain));
    let mut coloured = screen(80, 24, &[]);
    assert_kept(&mut coloured, 80, 24);
    assert!(has_colour(&coloured));
}
