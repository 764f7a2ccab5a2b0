//! The last line: keys, or what is being typed.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::{line, time};
use crate::live::{
    key::keys_of,
    scene::Scene,
    theme::Theme,
    typing::{Purpose, Typing},
};

/// Draws the line.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let drawn = match scene.typing {
        Some(typing) => being_typed(typing, theme),
        None => keys(scene, theme),
    };
    line(buffer, area, 0, &drawn);
}

fn being_typed(typing: &Typing, theme: Theme) -> Line<'static> {
    let (before, after) = match (typing.purpose, typing.time_us()) {
        (Purpose::Mark, _) => ("mark written; about: ", "Enter adds this".to_owned()),
        (Purpose::Time, Some(t_us)) => ("go to: ", format!("Enter goes to {}", time(t_us))),
        (Purpose::Time, None) => ("go to: ", "as 12:30 or 1:12:30".to_owned()),
    };
    Line::from(vec![
        Span::styled(before, theme.strong()),
        Span::styled(format!("{}▏", typing.text), theme.key()),
        Span::styled(format!("  {after}, Esc leaves it"), theme.quiet()),
    ])
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
