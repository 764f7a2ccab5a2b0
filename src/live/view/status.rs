//! The first lines: is it recording, is the link well, does what the engine does now count.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::{bytes, line, time};
use crate::{
    guide::{Feedback, Guidance, Progress, Status, reason_against},
    live::{
        scene::{File, Playback, Scene, Source},
        theme::Theme,
    },
    series::{
        course::{Running, Second},
        region::Region,
    },
};

/// The caution against misfires in the words that one line has room for.
const HEAVY_MISFIRE: &str = "Heavy misfire can overheat the catalyst: stop driving.";

/// A second is the present for so long; afterwards nothing is known of the present.
const PRESENT_S: u64 = 10;

/// Draws the three lines.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    first(buffer, area, scene, theme);
    let present = present(scene);
    let guidance = scene.guidance.filter(|_| scene.guided && present.is_some());
    let (verdict, advice) = match guidance {
        Some(guidance) => for_the_step(guidance, theme),
        None => (verdict(scene, theme), wanted(scene, theme)),
    };
    line(buffer, area, 1, &verdict);
    if let Some(model) = scene.model.filter(|_| present.is_some()) {
        at_the_right(buffer, area, 1, &Line::raw(readings(&model.running())));
    }
    let third = match trouble(scene) {
        Some(words) => Line::styled(format!(" {words} "), theme.trouble()),
        None => advice,
    };
    line(buffer, area, 2, &third);
}

/// Draws at the end of a line, over what was there.
fn at_the_right(buffer: &mut Buffer, area: Rect, row: u16, words: &Line<'_>) {
    let width = (words.width() as u16 + 2).min(area.width);
    let place = Rect {
        x: area.x + area.width - width,
        width,
        ..area
    };
    line(buffer, place, row, &Line::raw("  "));
    let words_place = Rect {
        x: place.x + 2.min(width),
        width: width.saturating_sub(2),
        ..place
    };
    line(buffer, words_place, row, words);
}

/// Title and file on the left, link and time on the right.
fn first(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let mut left = vec![
        Span::styled(scene.title.to_owned(), theme.strong()),
        Span::raw("  "),
    ];
    left.extend(kept(scene, theme));
    line(buffer, area, 0, &Line::from(left));
    let right = Line::from(vec![
        Span::raw(flow(scene.source)),
        Span::raw("  "),
        Span::styled(clock(scene), theme.strong()),
    ]);
    at_the_right(buffer, area, 0, &right);
}

fn kept(scene: &Scene<'_>, theme: Theme) -> Vec<Span<'static>> {
    match (scene.file, scene.source) {
        (Some(file), _) => writing(file, theme),
        (None, Source::Recording(_)) => vec![Span::raw("replay")],
        (None, Source::Seeking { .. } | Source::Refused { .. }) => Vec::new(),
        (None, _) => vec![Span::styled("not recorded", theme.stands_out())],
    }
}

fn writing(file: &File, theme: Theme) -> Vec<Span<'static>> {
    vec![
        Span::styled("● ", theme.counts().patch(theme.strong())),
        Span::raw(format!("{} ", file.name)),
        Span::styled(
            format!(
                "{}, saved {:.0} s ago",
                bytes(file.bytes),
                file.flushed_s_ago
            ),
            theme.quiet(),
        ),
    ]
}

fn flow(source: &Source) -> String {
    match source {
        Source::Seeking { .. } => "no car yet".to_owned(),
        Source::Refused { .. } => "no car".to_owned(),
        Source::Car { answers_per_s } => format!("link well, {answers_per_s:.0} answers/s"),
        Source::Troubled { .. } => "link in trouble".to_owned(),
        Source::Recording(playback) => speed(playback),
    }
}

fn speed(playback: &Playback) -> String {
    let state = match playback {
        Playback { seeking: true, .. } => "still reading",
        Playback { ended: true, .. } => "at the end",
        Playback { paused: true, .. } => "stands still",
        _ => "plays",
    };
    format!("{state}, {}× speed", playback.speed)
}

fn clock(scene: &Scene<'_>) -> String {
    match scene.source {
        Source::Recording(playback) => {
            let length = playback.length_us.map_or("…".to_owned(), time);
            format!("{} of {length}", time(playback.at_us))
        }
        _ => time(scene.now_us),
    }
}

/// Whether what the engine does counts.
fn verdict(scene: &Scene<'_>, theme: Theme) -> Line<'static> {
    if scene.model.is_none() {
        return Line::default();
    }
    let (counts, why) = present(scene).map_or((false, "waiting for readings".to_owned()), counting);
    let verdict = match counts {
        true => Span::styled("counts:", theme.counts().patch(theme.strong())),
        false => Span::styled("does not count:", theme.stands_out()),
    };
    Line::from(vec![verdict, Span::raw(format!(" {why}"))])
}

/// The second that is the present, as far as it is known; while the link is in trouble nothing is.
fn present<'a>(scene: &Scene<'a>) -> Option<&'a Second> {
    if matches!(scene.source, Source::Troubled { .. }) {
        return None;
    }
    let latest = scene.model?.history().latest()?;
    (latest.second + PRESENT_S >= scene.now_us / 1_000_000).then_some(latest)
}

/// In a guided run a second must count for the step; and what to do about it.
fn for_the_step(guidance: &Guidance, theme: Theme) -> (Line<'static>, Line<'static>) {
    let feedback = &guidance.feedback;
    let style = match feedback {
        Feedback::Counts => theme.counts().patch(theme.strong()),
        _ => theme.stands_out(),
    };
    let advice = feedback.advice().unwrap_or_default();
    (
        Line::styled(feedback.to_string(), style),
        Line::styled(advice, theme.strong()),
    )
}

/// Whether a second counts, and where, or why not.
fn counting(second: &Second) -> (bool, String) {
    match reason_against(second) {
        Some(reason) => (false, format!("{reason}. {}", reason.advice())),
        None => {
            let region = second.region.map(Region::words);
            (true, region.unwrap_or("between the regions").to_owned())
        }
    }
}

/// What is still to be driven.
fn wanted(scene: &Scene<'_>, theme: Theme) -> Line<'static> {
    let Some(guidance) = scene.guidance else {
        return Line::default();
    };
    let open = guidance.steps.iter().filter_map(|step| {
        let Progress {
            counted_seconds,
            wanted_seconds,
        } = step.progress;
        let left_s = wanted_seconds - counted_seconds;
        let open = step.status != Status::Skipped && left_s > 0.0;
        let title = step.title.to_lowercase();
        open.then(|| format!("{title} {}", time((left_s * 1e6) as u64)))
    });
    let open: Vec<String> = open.collect();
    match open.is_empty() {
        true => Line::styled("all that a sound answer needs is recorded", theme.counts()),
        false => Line::from(vec![
            Span::styled("still wanted: ", theme.quiet()),
            Span::raw(open.join(", ")),
        ]),
    }
}

fn readings(running: &Running) -> String {
    let shown = [
        running.engine_rpm.map(|rpm| format!("{rpm:.0} rpm")),
        running.load_pct.map(|load| format!("load {load:.0} %")),
        running.speed_km_h.map(|speed| format!("{speed:.0} km/h")),
        running.coolant_c.map(|coolant| format!("{coolant:.0} °C")),
    ];
    let shown: Vec<String> = shown.into_iter().flatten().collect();
    shown.join("  ")
}

/// The one thing that the person should see to first.
fn trouble(scene: &Scene<'_>) -> Option<String> {
    match scene.source {
        Source::Troubled { words } => return Some(words.clone()),
        Source::Refused { words, next_step } => return Some(format!("{words}: {next_step}")),
        Source::Seeking { stage } => return Some(stage.clone()),
        Source::Car { .. } | Source::Recording(_) => {}
    }
    let heavy = scene.judgement.diagnosis.misfires.is_heavy();
    heavy.then(|| HEAVY_MISFIRE.to_owned())
}
