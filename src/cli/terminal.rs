//! What the terminal can take: its width, and tables and progress bars that respect it.

use std::{
    io::{self, IsTerminal, stderr, stdout},
    time::Duration,
};

use comfy_table::{ContentArrangement, Table, presets};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::failure::Failure;
use crate::{io_words, live::Theme};

/// Columns of the terminal that standard output goes to; `None` for a file or a pipe. `COLUMNS` overrules.
pub fn width() -> Option<u16> {
    let stated = std::env::var("COLUMNS")
        .ok()
        .and_then(|text| text.parse().ok());
    stated.or_else(|| stdout().is_terminal().then(measured_width).flatten())
}

/// Whether standard output may carry letters in bold and colours: a terminal, and nobody asked for plain text
/// (`NO_COLOR`, no-color.org).
pub fn letters() -> bool {
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    stdout().is_terminal() && !plain
}

/// How a screen's letters look on this terminal.
pub fn theme() -> Theme {
    Theme { colour: letters() }
}

/// There is no terminal that a screen could be drawn on, as a line for the person.
pub fn no_screen(error: io::Error) -> Failure {
    Failure::new(
        "terminal",
        format!(
            "the live screen cannot be shown: {}",
            io_words::problem(&error)
        ),
        "run it in a terminal window, or use `pintle record` and `pintle diagnose` instead",
    )
}

#[cfg(unix)]
fn measured_width() -> Option<u16> {
    let size = rustix::termios::tcgetwinsize(stdout()).ok()?;
    (size.ws_col > 0).then_some(size.ws_col)
}

#[cfg(not(unix))]
fn measured_width() -> Option<u16> {
    None
}

/// An empty table without lines, with these headings, that wraps its cells on a narrow terminal.
pub fn table(headings: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    if let Some(width) = width() {
        table
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(width);
    }
    if !headings.is_empty() {
        table.set_header(headings.iter().copied());
    }
    table
}

/// An empty line, then a sentence or more, broken between words where the terminal ends.
pub fn paragraph(words: &str) -> String {
    let mut table = table(&[]);
    table.add_row([words]);
    if let Some(column) = table.column_mut(0) {
        column.set_padding((0, 0));
    }
    format!("\n{}", text_of(&table))
}

/// The table's text, no blanks at the line ends.
pub fn text_of(table: &Table) -> String {
    let lines = table.lines();
    lines.map(|line| format!("{}\n", line.trim_end())).collect()
}

/// A progress bar over so many bytes; shows itself only on a terminal.
pub fn bytes_bar(total: u64) -> ProgressBar {
    bar(total, "{bar:30} {bytes} of {total_bytes}, {eta} left")
}

/// A progress bar over so many seconds of driving; shows itself only on a terminal.
pub fn seconds_bar(total: u64) -> ProgressBar {
    bar(total, "{bar:30} {pos} of {len} s driven")
}

/// A line that shows passing time and a message while something of unknown length goes on; only on a terminal.
pub fn activity() -> ProgressBar {
    if !stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let line = ProgressBar::new_spinner();
    line.enable_steady_tick(Duration::from_millis(500));
    styled(line, "{elapsed_precise}  {msg}")
}

fn bar(total: u64, template: &str) -> ProgressBar {
    let target = if stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    styled(ProgressBar::with_draw_target(Some(total), target), template)
}

fn styled(bar: ProgressBar, template: &str) -> ProgressBar {
    match ProgressStyle::with_template(template) {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
