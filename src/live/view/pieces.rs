//! Small pieces of drawing that panels share. Every text from elsewhere goes through them, and what cannot be shown is
//! replaced here.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
};

use super::fit::{fitted, shortened, width_of, wrapped};
use crate::{live::theme::Theme, printable};

/// A panel's heading on its first line, an explanation after it where there is room, a thin rule behind both; the rest
/// of the area is returned.
pub fn heading(
    buffer: &mut Buffer,
    area: Rect,
    words: &str,
    explained: &[String],
    theme: Theme,
) -> Rect {
    if area.height == 0 {
        return area;
    }
    let rule = "─".repeat(usize::from(area.width));
    buffer.set_stringn(area.x, area.y, rule, usize::from(area.width), theme.quiet());
    let words = printable::line(words);
    let room = area.width.saturating_sub(width_of(&words) + 1);
    let explained = explained.iter().find(|words| width_of(words) < room);
    let mut spans = vec![Span::styled(format!("{words} "), theme.strong())];
    spans.extend(explained.map(|words| Span::styled(format!("{words} "), theme.quiet())));
    line(buffer, area, 0, &Line::from(spans));
    Rect {
        y: area.y + 1,
        height: area.height - 1,
        ..area
    }
}

/// A line at a place from the top of the area, if there is such a row; it ends in `…` where it is too long.
pub fn line(buffer: &mut Buffer, area: Rect, row: u16, line: &Line<'_>) {
    if row < area.height {
        let fitted = fitted(printable_line(line), area.width);
        buffer.set_line(area.x, area.y + row, &fitted, area.width);
    }
}

fn printable_line<'a>(line: &'a Line<'_>) -> Line<'a> {
    let spans = line.spans.iter();
    let spans = spans.map(|span| Span::styled(printable::line(&span.content), span.style));
    Line::from_iter(spans).style(line.style)
}

/// A sentence broken between words, from a row of the area on; it ends in `…` where there are not rows enough. The row
/// after it, also where that is below the area.
pub fn paragraph(buffer: &mut Buffer, area: Rect, row: u16, words: &str, style: Style) -> u16 {
    if area.width == 0 {
        return row;
    }
    let lines = wrapped(&printable::line(words), area.width);
    let rows = area.height.saturating_sub(row);
    for (index, words) in (0..rows).zip(&lines) {
        let is_cut = index + 1 == rows && lines.len() > usize::from(rows);
        let drawn = if !is_cut {
            words.clone()
        } else {
            shortened(&format!("{words} …"), area.width)
        };
        line(buffer, area, row + index, &Line::styled(drawn, style));
    }
    row.saturating_add(u16::try_from(lines.len()).unwrap_or(u16::MAX))
}

/// A bar of a share of the width, in eighths of a letter.
pub fn bar(share: f64, width: u16) -> String {
    /// Block letters by the eighths of their width that are filled (Unicode, Block Elements).
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
        heading(&mut buffer, area, words, &[], Theme { colour: false });
        line(&mut buffer, area, 1, &Line::raw(words));
        paragraph(&mut buffer, area, 2, words, Style::new());
        for row in 0..3 {
            let symbols = (0..9).filter_map(|column| Some(buffer.cell((column, row))?.symbol()));
            assert_eq!(symbols.collect::<String>(), "van�[2J�3", "row {row}");
        }
    }
}
