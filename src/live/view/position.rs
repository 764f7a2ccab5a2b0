//! Where a replay stands in its recording: a line from the first row to the last with the marks on it, and the times of
//! the marks that the keys lead to.

use ratatui::{
    buffer::Buffer,
    layout::{Constraint, Layout, Rect},
    style::Style,
    text::{Line, Span},
};

use super::pieces::{line, time};
use crate::live::{scene::Playback, theme::Theme};

/// Letters for a mark's time and its key at either end.
const TIME: u16 = 11;

/// Draws the line.
pub fn draw(buffer: &mut Buffer, area: Rect, playback: &Playback, theme: Theme) {
    let [before, middle, after] = Layout::horizontal([
        Constraint::Length(TIME),
        Constraint::Min(0),
        Constraint::Length(TIME),
    ])
    .areas(area);
    let marks = &playback.marks_us;
    let earlier = marks.iter().rfind(|mark_us| **mark_us < playback.at_us);
    let later = marks.iter().find(|mark_us| **mark_us > playback.at_us);
    if let Some(mark_us) = earlier {
        let words = [
            Span::styled("<", theme.key()),
            Span::raw(format!(" {}", time(*mark_us))),
        ];
        line(buffer, before, 0, &Line::from_iter(words));
    }
    if let Some(mark_us) = later {
        let words = [
            Span::raw(format!("{:>1$} ", time(*mark_us), usize::from(TIME) - 2)),
            Span::styled(">", theme.key()),
        ];
        line(buffer, after, 0, &Line::from_iter(words));
    }
    let scale = Scale::of(playback, middle);
    for x in 0..middle.width {
        let (sign, style) = scale.letter(x, playback, theme);
        if let Some(cell) = buffer.cell_mut((middle.x + x, middle.y)) {
            cell.set_char(sign).set_style(style);
        }
    }
}

/// Where times stand on the line.
struct Scale {
    begin_us: u64,
    length_us: u64,
    columns: u16,
    now: u16,
    marks: Vec<u16>,
}

impl Scale {
    fn of(playback: &Playback, area: Rect) -> Self {
        let end_us = playback.length_us.unwrap_or(playback.read_us);
        let mut scale = Self {
            begin_us: playback.begin_us,
            length_us: end_us.saturating_sub(playback.begin_us).max(1),
            columns: area.width.saturating_sub(1),
            now: 0,
            marks: Vec::new(),
        };
        scale.now = scale.column(playback.at_us);
        scale.marks = playback
            .marks_us
            .iter()
            .map(|mark_us| scale.column(*mark_us))
            .collect();
        scale
    }

    fn column(&self, t_us: u64) -> u16 {
        let share = t_us.saturating_sub(self.begin_us) as f64 / self.length_us as f64;
        (share.min(1.0) * f64::from(self.columns)).round() as u16
    }

    /// The sign at a place: now before a mark, a mark before the line.
    fn letter(&self, x: u16, playback: &Playback, theme: Theme) -> (char, Style) {
        let is_mark = self.marks.binary_search(&x).is_ok();
        let played = x < self.now;
        match (is_mark, played) {
            _ if x == self.now => ('◆', theme.strong()),
            (true, true) => ('╋', theme.strong()),
            (true, false) => ('┼', theme.strong()),
            (false, true) => ('━', theme.counts()),
            (false, false) if playback.length_us.is_none() => ('╌', theme.quiet()),
            (false, false) => ('─', theme.quiet()),
        }
    }
}
