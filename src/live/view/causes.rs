//! What it looks like so far, and what to do next.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::{bar, heading, line, paragraph};
use crate::{
    diagnose::Diagnosis,
    live::{scene::Scene, theme::Theme},
    report::words::{percent, phrase, ratio},
};

/// So many causes are shown where there is room.
const MOST: usize = 6;
/// Less probable causes are not shown.
const LEAST: f64 = 0.03;

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let diagnosis = &scene.judgement.diagnosis;
    let explained = format!("by {:.0} s that count", diagnosis.seconds.used);
    let area = heading(buffer, area, "So far", &explained, theme);
    if diagnosis.causes.is_empty() {
        let words = "Nothing can be said yet.";
        paragraph(buffer, area, 0, words, theme.quiet());
        return;
    }
    let shown = usize::from(area.height.saturating_sub(2)).clamp(1, MOST);
    let causes = diagnosis.causes.iter().enumerate().take(shown);
    let causes = causes.filter(|(rank, finding)| *rank == 0 || finding.probability >= LEAST);
    let mut row = 0;
    for (rank, finding) in causes {
        let style = if rank == 0 {
            theme.strong()
        } else {
            ratatui::style::Style::new()
        };
        let odds = percent(finding.probability);
        let odds = odds
            .trim_start_matches("over ")
            .trim_start_matches("under ");
        let drawn = Line::from(vec![
            Span::styled(format!("{odds:>4} "), style),
            Span::styled(
                format!("{:<6} ", bar(finding.probability, 6)),
                theme.counts(),
            ),
            Span::styled(phrase(finding, diagnosis.banks), style),
        ]);
        line(buffer, area, row, &drawn);
        row += 1;
    }
    let row = next(buffer, area, row, diagnosis, theme);
    evidence(buffer, area, row, diagnosis, theme);
}

/// The check that settles the doubt soonest; the row after it.
fn next(buffer: &mut Buffer, area: Rect, row: u16, diagnosis: &Diagnosis, theme: Theme) -> u16 {
    let Some(check) = diagnosis.next_checks.first() else {
        return row;
    };
    let words = format!("Next, {:.0} min: {}", check.minutes, check.how);
    let row = paragraph(buffer, area, row, &words, theme.strong());
    paragraph(buffer, area, row, &check.reading, theme.quiet())
}

/// Why the first cause leads, where there is room for it.
fn evidence(buffer: &mut Buffer, area: Rect, mut row: u16, diagnosis: &Diagnosis, theme: Theme) {
    let leading = diagnosis.causes.first();
    for piece in leading.iter().flat_map(|finding| &finding.evidence) {
        let words = format!("{}: {}", ratio(piece.log_odds), piece.what);
        row = paragraph(buffer, area, row, &words, theme.quiet());
    }
}
