//! The screen, one panel a file. On 80 × 24:
//!
//! ```text
//! van 3  ● idle.capture.csv 412 kB, saved 1 s ago       link good, 46 answers/s  0:12:31
//! counts: warm idle                                 780 rpm  load 24 %  0 km/h  92 °C
//! trouble, or what to do, or what is still needed
//! fuel trim: a strip a bank, zero line, last minutes       │ misfires by cylinder
//! where it was driven: engine speed by load                │ causes so far, next check
//! marks and link events, or the guided run
//! in a replay: the position
//! keys
//! ```
//!
//! Larger terminals give the strips, the grid and the words more room; nothing moves to another place.

use ratatui::{
    Frame,
    layout::{Constraint, Layout, Rect},
};

use super::{
    scene::{Scene, Source},
    theme::Theme,
};

mod causes;
mod coverage;
mod fit;
mod fuel_trim;
mod guide;
mod help;
mod journal;
mod keys;
mod misfires;
mod pieces;
mod position;
mod status;
mod strip;

/// Narrower or lower than this, only the lines fit that matter most.
const LEAST: (u16, u16) = (60, 16);

/// Draws the whole screen.
pub fn draw(frame: &mut Frame<'_>, scene: &Scene<'_>, theme: Theme) {
    let area = frame.area();
    let buffer = frame.buffer_mut();
    let is_replay = matches!(scene.source, Source::Recording(_));
    let [head, body, position, foot] = Layout::vertical([
        Constraint::Length(status::height(scene, area)),
        Constraint::Min(0),
        Constraint::Length(u16::from(is_replay)),
        Constraint::Length(1),
    ])
    .areas(area);
    status::draw(buffer, head, scene, theme);
    keys::draw(buffer, foot, scene, theme);
    if let Source::Recording(playback) = scene.source {
        position::draw(buffer, position, playback, theme);
    }
    if scene.help {
        return help::draw(buffer, body, scene, theme);
    }
    if area.width < LEAST.0 || area.height < LEAST.1 {
        return fuel_trim::draw(buffer, body, scene, theme);
    }
    let areas = Places::in_body(body, scene);
    fuel_trim::draw(buffer, areas.fuel_trim, scene, theme);
    misfires::draw(buffer, areas.misfires, scene, theme);
    coverage::draw(buffer, areas.coverage, scene, theme);
    causes::draw(buffer, areas.causes, scene, theme);
    match scene.guidance.filter(|_| scene.guided) {
        Some(guidance) => guide::draw(buffer, areas.foot, scene, guidance, theme),
        None => journal::draw(buffer, areas.foot, scene, theme),
    }
}

/// Where the panels are.
struct Places {
    fuel_trim: Rect,
    misfires: Rect,
    coverage: Rect,
    causes: Rect,
    /// The guided run, or the journal.
    foot: Rect,
}

impl Places {
    fn in_body(body: Rect, scene: &Scene<'_>) -> Self {
        let grid = coverage::height(body.height);
        let foot = 3 + 4 * u16::from(scene.guided) + body.height.saturating_sub(20) / 8;
        let [upper, lower, foot] = Layout::vertical([
            Constraint::Fill(1),
            Constraint::Length(grid),
            Constraint::Length(foot),
        ])
        .areas(body);
        let [fuel_trim, misfires] =
            Layout::horizontal([Constraint::Min(48), Constraint::Percentage(40)])
                .spacing(2)
                .areas(upper);
        let [coverage, causes] = Layout::horizontal([
            Constraint::Length(coverage::width(body.width, scene)),
            Constraint::Fill(1),
        ])
        .spacing(2)
        .areas(lower);
        Self {
            fuel_trim,
            misfires,
            coverage,
            causes,
            foot,
        }
    }
}

#[cfg(test)]
mod tests;
