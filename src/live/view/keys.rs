//! The last line: keys, or what is being typed.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::{
    fit::{end_of, width_of},
    pieces::{line, time},
};
use crate::{
    live::{
        key::{Binding, keys_of},
        scene::Scene,
        theme::Theme,
        typing::{Purpose, Typing},
    },
    printable,
};

/// Draws the line.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let drawn = match scene.typing {
        Some(typing) => being_typed(typing, area.width, theme),
        None => keys(scene, area.width, theme),
    };
    line(buffer, area, 0, &drawn);
}

/// Of a long text its end, and the explanation only where all of it has room.
fn being_typed(typing: &Typing, width: u16, theme: Theme) -> Line<'static> {
    let (before, after) = match (typing.purpose, typing.time_us()) {
        (Purpose::Mark, _) => (
            "Mark written. Note: ",
            "  Enter adds it, Esc adds none".to_owned(),
        ),
        (Purpose::Time, Some(t_us)) => (
            "Go to: ",
            format!("  Enter goes to {}, Esc stays", time(t_us)),
        ),
        (Purpose::Time, None) => ("Go to: ", "  as 12:30 or 1:12:30, Esc stays".to_owned()),
    };
    let text = end_of(
        &printable::line(&typing.text),
        width.saturating_sub(width_of(before) + 1),
    );
    let used = width_of(before) + width_of(&text) + 1;
    let after = Some(after).filter(|after| used + width_of(after) <= width);
    Line::from(vec![
        Span::styled(before, theme.strong()),
        Span::styled(format!("{text}▏"), theme.key()),
        Span::styled(after.unwrap_or_default(), theme.quiet()),
    ])
}

/// Keys that are always named: help and the end.
const LAST: usize = 2;

/// The keys with their words, as many as fit; the last are always among them.
fn keys(scene: &Scene<'_>, width: u16, theme: Theme) -> Line<'static> {
    let mut shown: Vec<&Binding> = keys_of(scene.contexts)
        .filter(|binding| !binding.word.is_empty())
        .collect();
    let taken = |shown: &[&Binding]| -> u16 {
        let each = shown.iter();
        each.map(|binding| width_of(binding.shown) + 1 + width_of(binding.word) + 2)
            .sum()
    };
    let mut is_cut = false;
    while shown.len() > LAST && taken(&shown) + 3 * u16::from(is_cut) > width + 2 {
        shown.remove(shown.len() - LAST - 1);
        is_cut = true;
    }
    let before_last = shown.len().saturating_sub(LAST);
    let mut spans = Vec::new();
    for (index, binding) in shown.into_iter().enumerate() {
        if is_cut && index == before_last {
            spans.push(Span::styled("…  ", theme.quiet()));
        }
        spans.push(Span::styled(binding.shown, theme.key()));
        spans.push(Span::raw(format!(" {}  ", binding.word)));
    }
    if let Some(last) = spans.last_mut() {
        last.content = last.content.trim_end().to_owned().into();
    }
    Line::from(spans)
}
