//! Small pieces of drawing that panels share. Every text from elsewhere goes through them, and what cannot be shown is
//! replaced here.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
    widgets::{Paragraph, Widget, Wrap},
};

use crate::{live::theme::Theme, printable};

/// A panel's heading on its first line, an explanation after it, a thin rule behind both; the rest of the area is
/// returned.
pub fn heading(
    buffer: &mut Buffer,
    area: Rect,
    words: &str,
    explained: &str,
    theme: Theme,
) -> Rect {
    if area.height == 0 {
        return area;
    }
    let rule = "─".repeat(usize::from(area.width));
    buffer.set_stringn(area.x, area.y, rule, usize::from(area.width), theme.quiet());
    let line = Line::from(vec![
        Span::styled(format!("{words} "), theme.strong()),
        Span::styled(explained.to_owned(), theme.quiet()),
        Span::raw(if explained.is_empty() { "" } else { " " }),
    ]);
    buffer.set_line(area.x, area.y, &printable_line(&line), area.width);
    Rect {
        y: area.y + 1,
        height: area.height - 1,
        ..area
    }
}

/// A line at a place from the top of the area, if it has room for it.
pub fn line(buffer: &mut Buffer, area: Rect, row: u16, line: &Line<'_>) {
    if row < area.height {
        buffer.set_line(area.x, area.y + row, &printable_line(line), area.width);
    }
}

fn printable_line<'a>(line: &'a Line<'_>) -> Line<'a> {
    let spans = line.spans.iter();
    let spans = spans.map(|span| Span::styled(printable::line(&span.content), span.style));
    Line::from_iter(spans).style(line.style)
}

/// A sentence broken between words, from a row of the area on, as far as there is room; the row after it, also where that
/// is below the area.
pub fn paragraph(buffer: &mut Buffer, area: Rect, row: u16, words: &str, style: Style) -> u16 {
    if area.width == 0 {
        return row;
    }
    let words = &*printable::line(words);
    if row < area.height {
        let rest = Rect {
            y: area.y + row,
            height: area.height - row,
            ..area
        };
        let paragraph = Paragraph::new(words).style(style).wrap(Wrap { trim: true });
        paragraph.render(rest, buffer);
    }
    row.saturating_add(lines_needed(words, area.width))
}

/// Lines that a sentence takes, broken between words.
fn lines_needed(words: &str, width: u16) -> u16 {
    let width = usize::from(width);
    let mut lines = 1_u16;
    let mut used = 0;
    for word in words.split_whitespace() {
        let length = Line::raw(word).width();
        let with_space = if used == 0 { length } else { used + 1 + length };
        if with_space > width && used > 0 {
            lines += 1;
            used = length;
        } else {
            used = with_space;
        }
        while used > width {
            lines += 1;
            used -= width;
        }
    }
    lines
}

/// A bar of a share of the width, in eighths of a letter.
pub fn bar(share: f64, width: u16) -> String {
    const EIGHTHS: [char; 8] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉'];
    let eighths = (share.clamp(0.0, 1.0) * f64::from(width) * 8.0).round() as usize;
    let mut bar = "█".repeat(eighths / 8);
    bar.extend(EIGHTHS.get(eighths % 8).filter(|part| **part != ' '));
    bar
}

/// Hours, minutes and seconds.
pub fn time(t_us: u64) -> String {
    let seconds = t_us / 1_000_000;
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    match hours {
        0 => format!("{minutes}:{seconds:02}"),
        _ => format!("{hours}:{minutes:02}:{seconds:02}"),
    }
}

/// A size that a person can read.
pub fn bytes(bytes: u64) -> String {
    match bytes {
        ..1000 => format!("{bytes} B"),
        1000..1_000_000 => format!("{} kB", bytes / 1000),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_hidden_has_a_sign_in_every_piece() {
        let area = Rect::new(0, 0, 20, 3);
        let mut buffer = Buffer::empty(area);
        let words = "van\x1b[2J\u{202e}3";
        heading(&mut buffer, area, words, "", Theme { colour: false });
        line(&mut buffer, area, 1, &Line::raw(words));
        paragraph(&mut buffer, area, 2, words, Style::new());
        for row in 0..3 {
            let symbols = (0..9).filter_map(|column| Some(buffer.cell((column, row))?.symbol()));
            assert_eq!(symbols.collect::<String>(), "van�[2J�3", "row {row}");
        }
    }
}
