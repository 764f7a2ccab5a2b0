//! The explanation: keys first, then the signs of the panels.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
};

use super::pieces::{heading, line, paragraph};
use crate::live::{
    key::keys_of,
    scene::{Scene, Source},
    theme::Theme,
};

/// The panels and their signs.
const PANELS: [(&str, &str); 5] = [
    (
        "Fuel trim",
        "Fuel that the engine controller adds (+) or takes away (−): short and long term together. Dots: the last minutes \
         around zero; the bar below is full where seconds count. Numbers: mean of each kind of driving with its 95 % \
         interval within this trip; another trip may differ by 2 points.",
    ),
    (
        "Misfires",
        "Counted by the car itself, with the 95 % interval of the rate. ▶ marks a cylinder that misfires more than the others.",
    ),
    (
        "Driven",
        "Engine speed by load. A box fills with the seconds that count. ◆: the engine runs here now. [ ]: still needed.",
    ),
    (
        "So far",
        "What `pintle diagnose` would say if the recording ended now, and the check that decides soonest.",
    ),
    (
        "does not count",
        "Seconds with a cold engine, fuel cut-off, open loop or quick changes say nothing about injectors: they are recorded, \
         but not judged.",
    ),
];

/// The line of a replay.
const POSITION: (&str, &str) = (
    "◆ on the line",
    "The position between beginning and end. ┼ is a mark; the times of the marks before and after stand at the ends. \
     Dashes: the file is still being read.",
);

/// Draws the page.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = heading(buffer, area, "Keys", &[], theme);
    let mut row = 0;
    for binding in keys_of(scene.contexts) {
        let drawn = Line::from(vec![
            Span::styled(format!("{:>10}  ", binding.shown), theme.key()),
            Span::raw(binding.sentence),
        ]);
        line(buffer, area, row, &drawn);
        row += 1;
    }
    let position = matches!(scene.source, Source::Recording(_)).then_some(POSITION);
    for (panel, sentence) in PANELS.into_iter().chain(position) {
        let words = format!("{panel}: {sentence}");
        row = paragraph(buffer, area, row, &words, Style::new());
    }
    if row > area.height {
        let last = area.height.saturating_sub(1);
        line(
            buffer,
            area,
            last,
            &Line::raw(" ".repeat(area.width.into())),
        );
        let words = Line::styled("Enlarge the window to read the rest …", theme.strong());
        line(buffer, area, last, &words);
    }
}
