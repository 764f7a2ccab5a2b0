//! The guided run: what to hold, whether it counts, how much is still wanted, and what to mind.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
};

use super::pieces::{bar, heading, line, paragraph};
use crate::{
    guide::{Guidance, Progress, Status, StepState},
    live::theme::Theme,
};

/// Letters of the bar.
const BAR: u16 = 20;

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, guidance: &Guidance, theme: Theme) {
    let explained = format!("step {} of {}", guidance.number, guidance.of);
    let area = heading(buffer, area, guidance.title, &explained, theme);
    let mut row = paragraph(buffer, area, 0, guidance.instruction, theme.strong());
    let progress = held(guidance.progress, theme);
    if progress.width() > 0 {
        line(buffer, area, row, &progress);
        row += 1;
    }
    let cautions: Vec<&str> = guidance
        .cautions
        .iter()
        .map(|caution| caution.words())
        .collect();
    row = paragraph(buffer, area, row, &cautions.join(" "), Style::new());
    row = paragraph(buffer, area, row, guidance.why, theme.quiet());
    line(buffer, area, row, &steps(&guidance.steps, theme));
}

/// How much of the step is held.
fn held(progress: Progress, theme: Theme) -> Line<'static> {
    let Progress {
        counted_seconds,
        wanted_seconds,
    } = progress;
    if wanted_seconds <= 0.0 {
        return Line::default();
    }
    let drawn = bar(counted_seconds / wanted_seconds, BAR);
    let width = usize::from(BAR);
    Line::from(vec![
        Span::styled(format!("▕{drawn:<width$}▏"), theme.counts()),
        Span::styled(
            format!(" {counted_seconds:.0} of {wanted_seconds:.0} s"),
            theme.strong(),
        ),
    ])
}

/// All steps in a line: done, left out, being held, to come.
fn steps(steps: &[StepState], theme: Theme) -> Line<'static> {
    let spans = steps.iter().map(|step| {
        let (sign, style) = match step.status {
            Status::Done => ("✓", theme.counts()),
            Status::Skipped => ("–", theme.quiet()),
            Status::Current => ("▶", theme.strong()),
            Status::Open => ("·", Style::new()),
        };
        Span::styled(format!("{sign} {}  ", step.title), style)
    });
    Line::from(spans.collect::<Vec<_>>())
}
