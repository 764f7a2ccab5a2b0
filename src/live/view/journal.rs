//! The last marks and states of the link.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::{heading, line, time};
use crate::live::{journal::Entry, scene::Scene, theme::Theme};

/// Draws the panel, the newest entry last.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = heading(buffer, area, "Marks and link", &[], theme);
    let Some(model) = scene.model else {
        return;
    };
    let entries = model.journal().entries();
    let skipped = entries.len().saturating_sub(usize::from(area.height));
    for (row, entry) in (0..).zip(entries.skip(skipped)) {
        line(buffer, area, row, &drawn(entry, theme));
    }
}

fn drawn(entry: &Entry, theme: Theme) -> Line<'_> {
    let kind = if entry.of_link { "link" } else { "mark" };
    Line::from(vec![
        Span::styled(format!("{:>8}  {kind}  ", time(entry.t_us)), theme.quiet()),
        Span::raw(entry.words.as_str()),
    ])
}
