//! The guided run: what to do, how much of it is done, and the dangers.

use ratatui::{
    buffer::Buffer,
    layout::{Constraint, Layout, Rect},
    style::Style,
    text::{Line, Span},
};

use super::pieces::{bar, heading, line, paragraph};
use crate::{
    caution::Caution,
    guide::{Guidance, Progress, Status, StepState, step::Task},
    live::{scene::Scene, theme::Theme},
};

/// Cells of the bar.
const BAR: u16 = 20;

/// What to know of a run that no recording is made of.
pub const NOT_RECORDED: &str = "Nothing is recorded.";

/// Draws the panel: the steps stay on the last line, whatever else has no room.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, guidance: &Guidance, theme: Theme) {
    let explained = format!("step {} of {}", guidance.number, guidance.of);
    let area = heading(buffer, area, guidance.title, &[explained], theme);
    let [area, foot] = Layout::vertical([Constraint::Min(0), Constraint::Length(1)]).areas(area);
    line(buffer, foot, 0, &steps(&guidance.steps, theme));
    let mut row = paragraph(buffer, area, 0, guidance.instruction, theme.strong());
    let progress = held(guidance.progress, theme);
    if progress.width() > 0 {
        line(buffer, area, row, &progress);
        row += 1;
    }
    if guidance.task == Task::Finish {
        let mut standing = guidance.standing();
        if scene.file.is_none() {
            standing = format!("{NOT_RECORDED} {standing}");
        }
        row = paragraph(buffer, area, row, &standing, theme.strong());
    }
    if let Some(caution) = Caution::line(guidance.cautions) {
        row = paragraph(buffer, area, row, &caution, Style::new());
    }
    paragraph(buffer, area, row, guidance.why, theme.quiet());
}

/// How much of the step is done.
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

/// All steps in a line: done, skipped, current, to come.
fn steps(steps: &[StepState], theme: Theme) -> Line<'static> {
    let mut spans = Vec::new();
    for (index, step) in steps.iter().enumerate() {
        let (sign, style) = match step.status {
            Status::Done => ("✓", theme.counts()),
            Status::Skipped => ("–", theme.quiet()),
            Status::Current => ("▶", theme.strong()),
            Status::Open => ("·", Style::new()),
        };
        let gap = if index == 0 { "" } else { "  " };
        spans.push(Span::styled(format!("{gap}{sign} {}", step.title), style));
    }
    Line::from(spans)
}
