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
        "Correction",
        "Fuel that the controller adds (+) or takes away (−), short and long term together. Dots: the last minutes around \
         the zero line; the line below is full where seconds count. Beside them the mean of each region so far with its \
         95 % interval inside this trip; another trip may lie 2 points off.",
    ),
    (
        "Misfires",
        "Counted by the car itself, with the 95 % interval of the rate. ▶ is a cylinder with more than its share.",
    ),
    (
        "Driven",
        "Engine speed by load; a box fills with the seconds that count. ◆ is where the engine runs now, [ ] is still wanted.",
    ),
    (
        "So far",
        "What `pintle diagnose` would say of this recording if it ended now, and the check that settles the doubt soonest.",
    ),
    (
        "does not count",
        "Cold, fuel cut, open loop and quick changes say nothing about injectors; such seconds are recorded but not judged.",
    ),
];

/// The line of a replay.
const POSITION: (&str, &str) = (
    "◆ on the line",
    "Where the replay stands between beginning and end. ┼ is a mark; at the ends the times of the marks before and after. \
     Dashes: the file is still being read, its end is not known yet.",
);

/// Draws the page.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = heading(buffer, area, "Keys", "", theme);
    let mut row = 0;
    for binding in keys_of(scene.places) {
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
        let words = Line::styled("A higher window shows the rest.", theme.strong());
        line(buffer, area, last, &words);
    }
}
