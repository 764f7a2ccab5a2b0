//! The last line: keys, or the mark being typed.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::line;
use crate::live::{key::keys_of, scene::Scene, theme::Theme};

/// Draws the line.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let drawn = match scene.typing {
        Some(text) => Line::from(vec![
            Span::styled("mark written; about: ", theme.strong()),
            Span::styled(format!("{text}▏"), theme.key()),
            Span::styled("  Enter adds this, Esc leaves it", theme.quiet()),
        ]),
        None => keys(scene, theme),
    };
    line(buffer, area, 0, &drawn);
}

fn keys(scene: &Scene<'_>, theme: Theme) -> Line<'static> {
    let bindings = keys_of(scene.places).filter(|binding| !binding.word.is_empty());
    let spans = bindings.flat_map(|binding| {
        [
            Span::styled(binding.shown, theme.key()),
            Span::raw(" "),
            Span::raw(binding.word),
            Span::raw("  "),
        ]
    });
    Line::from(spans.collect::<Vec<_>>())
}
