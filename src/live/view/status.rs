//! The first lines: is it recording, is the link good, does what the engine does now count, and what to do.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::{
    fit::{first_that_fits, listed, shortened, width_of, wrapped},
    guide::NOT_RECORDED,
    pieces::{bytes, line, paragraph, time},
};
use crate::{
    guide::{Feedback, Guidance, Status, reason_against},
    live::{
        scene::{File, Playback, Scene, Source},
        theme::Theme,
    },
    printable,
    series::{
        label::region::Region,
        timeline::course::{Running, Second},
    },
};

/// The caution against misfires in one line.
const HEAVY_MISFIRE: &str = "Stop driving: heavy misfire can overheat the catalyst.";

/// Most rows that a trouble may take.
const TROUBLE_ROWS: u16 = 3;

/// Rows of the window for each row that a trouble may take; one row is always allowed.
const WINDOW_ROWS_PER_TROUBLE_ROW: u16 = 8;

/// Cells that a file's name keeps while something else can give way.
const LEAST_NAME: u16 = 12;

/// Cells that the title keeps while something else can give way.
const LEAST_TITLE: u16 = 8;

/// A second is the present for so long; afterwards nothing is known of the present.
const PRESENT_S: u64 = 10;

/// Rows that these lines need in a window of this size: three, more only for a trouble that has no room in one.
pub fn height(scene: &Scene<'_>, window: Rect) -> u16 {
    let most = (window.height / WINDOW_ROWS_PER_TROUBLE_ROW).clamp(1, TROUBLE_ROWS);
    let rows = trouble(scene).map_or(1, |words| wrapped(&words, window.width).len());
    2 + u16::try_from(rows).unwrap_or(most).clamp(1, most)
}

/// Draws the lines.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    first(buffer, area, scene, theme);
    second(buffer, area, scene, theme);
    match trouble(scene) {
        Some(words) => {
            paragraph(buffer, area, 2, &words, theme.trouble());
        }
        None => line(buffer, area, 2, &advice(scene, area.width, theme)),
    }
}

/// Title and file on the left, link and time on the right. Where there is no room for all, the file name gives way
/// first, then the title, then the rate and the size; the time never.
fn first(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let title = printable::line(scene.title);
    let kept = Kept::of(scene);
    let name = printable::line(&kept.name);
    let room = |right: &str, detail: &str| {
        let fixed = width_of(right) + 2 + 2 + width_of(kept.sign) + width_of(detail);
        area.width.saturating_sub(fixed)
    };
    let (least_title, least_name) = (
        width_of(&title).min(LEAST_TITLE),
        width_of(&name).min(LEAST_NAME),
    );
    let clock = clock(scene);
    let rights = flow(scene.source).into_iter();
    let rights: Vec<String> = rights.map(|flow| format!("{flow}  {clock}")).collect();
    let mut layouts = rights
        .iter()
        .flat_map(|right| kept.details.iter().map(move |detail| (right, detail)));
    let fits = layouts.find(|(right, detail)| least_title + least_name <= room(right, detail));
    let bare = (&clock, &String::new());
    let (right, detail) = fits.unwrap_or(bare);
    let room = room(right, detail);
    let name_room = room.saturating_sub(width_of(&title)).max(least_name);
    let name = shortened(&name, name_room);
    let title = shortened(&title, room.saturating_sub(width_of(&name)));
    let left = Line::from(vec![
        Span::styled(title, theme.strong()),
        Span::raw("  "),
        Span::styled(kept.sign, kept.sign_style(theme)),
        Span::raw(name),
        Span::styled(detail.clone(), theme.quiet()),
    ]);
    let left_area = Rect {
        width: area.width.saturating_sub(width_of(right) + 2),
        ..area
    };
    line(buffer, left_area, 0, &left);
    let flow = right.strip_suffix(clock.as_str()).unwrap_or_default();
    let drawn = Line::from(vec![
        Span::raw(flow.to_owned()),
        Span::styled(clock.clone(), theme.strong()),
    ]);
    at_the_right(buffer, area, 0, &drawn);
}

/// Draws at the end of a line.
fn at_the_right(buffer: &mut Buffer, area: Rect, row: u16, words: &Line<'_>) {
    let width = u16::try_from(words.width())
        .unwrap_or(u16::MAX)
        .min(area.width);
    let place = Rect {
        x: area.x + area.width - width,
        width,
        ..area
    };
    line(buffer, place, row, words);
}

/// Where the data are kept, as the first line says it.
struct Kept {
    sign: &'static str,
    name: String,
    /// What follows the name, longest first.
    details: Vec<String>,
    stands_out: bool,
}

impl Kept {
    fn of(scene: &Scene<'_>) -> Self {
        let plain = |sign| Self {
            sign,
            name: String::new(),
            details: vec![String::new()],
            stands_out: false,
        };
        match (scene.file, scene.source) {
            (Some(file), _) => Self::file(file),
            (None, Source::Recording(_)) => plain("replay"),
            (None, Source::Seeking { .. } | Source::Refused { .. }) => plain(""),
            (None, _) => Self {
                stands_out: true,
                ..plain("not recorded")
            },
        }
    }

    fn file(file: &File) -> Self {
        let size = bytes(file.bytes);
        let saved = format!("saved {:.0} s ago", file.flushed_s_ago);
        Self {
            sign: "● ",
            name: file.name.clone(),
            details: vec![
                format!(" {size}, {saved}"),
                format!(" {size}"),
                String::new(),
            ],
            stands_out: false,
        }
    }

    fn sign_style(&self, theme: Theme) -> ratatui::style::Style {
        match (self.stands_out, self.name.is_empty()) {
            (true, _) => theme.stands_out(),
            (false, true) => ratatui::style::Style::new(),
            (false, false) => theme.counts().patch(theme.strong()),
        }
    }
}

/// How the data come, longest first.
fn flow(source: &Source) -> Vec<String> {
    match source {
        Source::Seeking { .. } => vec!["no car yet".to_owned()],
        Source::Refused { .. } => vec!["no car".to_owned()],
        Source::Car { answers_per_s } => vec![
            format!("link good, {answers_per_s:.0} answers/s"),
            "link good".to_owned(),
        ],
        Source::Troubled { .. } => vec!["link trouble".to_owned()],
        Source::Recording(playback) => vec![speed(playback)],
    }
}

fn speed(playback: &Playback) -> String {
    let state = match playback {
        Playback { seeking: true, .. } => "searching",
        Playback { ended: true, .. } => "at the end",
        Playback { paused: true, .. } => "paused",
        _ => "playing",
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

/// Whether what the engine does counts, then how it runs: as many readings as there is room for.
fn second(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let Some(model) = scene.model else {
        return;
    };
    let present = present(scene);
    let guidance = scene.guidance.filter(|_| scene.guided && present.is_some());
    let verdict = match (guidance, present) {
        (Some(guidance), _) => for_the_step(&guidance.feedback, theme),
        (None, Some(second)) => counting(second, theme),
        (None, None) => Line::raw("waiting for readings"),
    };
    line(buffer, area, 1, &verdict);
    if present.is_none() {
        return;
    }
    let readings = readings(&model.running());
    let used = u16::try_from(verdict.width()).unwrap_or(u16::MAX);
    let room = area.width.saturating_sub(used).saturating_sub(2);
    let choices: Vec<String> = (0..=readings.len())
        .rev()
        .map(|shown| {
            readings
                .iter()
                .take(shown)
                .cloned()
                .collect::<Vec<_>>()
                .join("  ")
        })
        .collect();
    let words = first_that_fits(&choices, room);
    at_the_right(buffer, area, 1, &Line::raw(words));
}

/// The second that is the present, as far as it is known; while the link is in trouble nothing is.
fn present<'a>(scene: &Scene<'a>) -> Option<&'a Second> {
    if matches!(scene.source, Source::Troubled { .. }) {
        return None;
    }
    let latest = scene.model?.history().latest()?;
    (latest.second + PRESENT_S >= scene.now_us / 1_000_000).then_some(latest)
}

/// In a guided run a second must count for the step.
fn for_the_step(feedback: &Feedback, theme: Theme) -> Line<'static> {
    let style = match feedback {
        Feedback::Counts => theme.counts().patch(theme.strong()),
        _ => theme.stands_out(),
    };
    Line::styled(feedback.to_string(), style)
}

/// Whether a second counts, and where, or why not.
fn counting(second: &Second, theme: Theme) -> Line<'static> {
    let (verdict, why) = match reason_against(second) {
        Some(reason) => (
            Span::styled("does not count:", theme.stands_out()),
            reason.to_string(),
        ),
        None => {
            let region = second.region.map_or("other driving", Region::words);
            (
                Span::styled("counts:", theme.counts().patch(theme.strong())),
                region.to_owned(),
            )
        }
    };
    Line::from(vec![verdict, Span::raw(format!(" {why}"))])
}

/// What to do now; what is still needed where there is room.
fn advice(scene: &Scene<'_>, width: u16, theme: Theme) -> Line<'static> {
    let Some(guidance) = scene.guidance else {
        return Line::default();
    };
    let advice = present(scene).and_then(|second| {
        if scene.guided {
            guidance.feedback.advice()
        } else {
            reason_against(second).map(|reason| reason.advice().to_owned())
        }
    });
    let Some(advice) = advice else {
        return needed(scene, guidance, width, theme);
    };
    let used = width_of(&advice) + 2;
    let mut spans = vec![Span::styled(advice, theme.strong())];
    if !scene.guided && used < width {
        let rest = needed(scene, guidance, width - used, theme);
        // a beginning without anything behind it says nothing
        if !rest.to_string().ends_with(": …") && rest.width() + usize::from(used) <= width.into()
        {
            spans.push(Span::raw("  "));
            spans.extend(rest.spans);
        }
    }
    Line::from(spans)
}

/// What is still to be recorded.
fn needed(scene: &Scene<'_>, guidance: &Guidance, width: u16, theme: Theme) -> Line<'static> {
    let open = guidance
        .steps
        .iter()
        .filter(|step| step.status != Status::Skipped);
    let open: Vec<String> = open
        .filter_map(|step| {
            let left_s = step.progress.wanted_seconds - step.progress.counted_seconds;
            let title = step.title.to_lowercase();
            (left_s > 0.0).then(|| format!("{title} {}", time((left_s * 1e6) as u64)))
        })
        .collect();
    if !open.is_empty() {
        return Line::raw(listed("Still needed: ", &open, width));
    }
    let is_live = !matches!(scene.source, Source::Recording(_));
    let words = if scene.file.is_none() && is_live {
        NOT_RECORDED.to_owned()
    } else {
        guidance.standing()
    };
    Line::styled(shortened(&words, width), theme.counts())
}

/// How the engine runs, the most telling first.
fn readings(running: &Running) -> Vec<String> {
    let shown = [
        running.engine_rpm.map(|rpm| format!("{rpm:.0} rpm")),
        running.load_pct.map(|load| format!("load {load:.0} %")),
        running.speed_km_h.map(|speed| format!("{speed:.0} km/h")),
        running.coolant_c.map(|coolant| format!("{coolant:.0} °C")),
    ];
    shown.into_iter().flatten().collect()
}

/// The one thing that the person should see to first: what to do, then why.
fn trouble(scene: &Scene<'_>) -> Option<String> {
    match scene.source {
        Source::Troubled { words } => return Some(words.clone()),
        Source::Refused { words, next_step } => {
            return Some(format!("{} ({words})", capitalised(next_step)));
        }
        Source::Seeking { stage } => return Some(stage.clone()),
        Source::Car { .. } | Source::Recording(_) => {}
    }
    let heavy = scene.judgement.diagnosis.misfires.is_heavy();
    heavy.then(|| HEAVY_MISFIRE.to_owned())
}

fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
