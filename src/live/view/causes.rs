//! The most probable causes so far, and the check to do next.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
};

use super::pieces::{bar, heading, line, paragraph};
use crate::{
    caution::Caution,
    diagnose::Diagnosis,
    live::{scene::Scene, theme::Theme},
    report::{
        evidence_words::evidence_lines,
        words::{percent, phrase, ratio},
    },
};

/// No more causes are shown, also where there is room.
const MOST: usize = 6;
/// Rows that are left to the next check.
const NEXT_ROWS: u16 = 3;
/// Less probable causes are not shown.
const LEAST: f64 = 0.03;

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let diagnosis = &scene.judgement.diagnosis;
    let explained = format!("from {:.0} s that count", diagnosis.seconds.used);
    let area = heading(buffer, area, "So far", &[explained], theme);
    if diagnosis.causes.is_empty() {
        let words = "Not enough data for a finding yet.";
        paragraph(buffer, area, 0, words, theme.quiet());
        return;
    }
    let shown = usize::from(area.height.saturating_sub(NEXT_ROWS)).clamp(1, MOST);
    let causes = diagnosis.causes.iter().enumerate().take(shown);
    let causes = causes.filter(|(rank, finding)| *rank == 0 || finding.probability >= LEAST);
    let mut row = 0;
    for (rank, finding) in causes {
        let style = if rank == 0 {
            theme.strong()
        } else {
            Style::new()
        };
        let odds = percent(finding.probability);
        let drawn = Line::from(vec![
            Span::styled(format!("{odds:>9} "), style),
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

/// The check that decides soonest; the row after it.
fn next(buffer: &mut Buffer, area: Rect, row: u16, diagnosis: &Diagnosis, theme: Theme) -> u16 {
    let Some(check) = diagnosis.next_checks.first() else {
        return row;
    };
    let words = format!("Next, {:.0} min: {}", check.minutes, check.how);
    let mut row = paragraph(buffer, area, row, &words, theme.strong());
    // before what the check shows: whoever does it must have read this
    if let Some(caution) = Caution::line(&check.cautions) {
        row = paragraph(buffer, area, row, &caution, Style::new());
    }
    paragraph(buffer, area, row, &check.outcomes.join("; "), theme.quiet())
}

/// Why the first cause leads, where there is room for it.
fn evidence(buffer: &mut Buffer, area: Rect, mut row: u16, diagnosis: &Diagnosis, theme: Theme) {
    let leading = diagnosis.causes.first();
    for piece in leading.into_iter().flat_map(evidence_lines) {
        let words = format!("{}: {}", ratio(piece.log_odds), piece.what);
        row = paragraph(buffer, area, row, &words, theme.quiet());
    }
}
