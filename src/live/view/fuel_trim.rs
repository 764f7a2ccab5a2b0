//! Total fuel trim of each bank: now, over the last minutes, and on average by region.

use ratatui::{
    buffer::Buffer,
    layout::{Constraint, Layout, Rect},
    text::{Line, Span},
};

use super::{
    pieces::{heading, line},
    strip::{Axes, Strip},
};
use crate::{
    bank::Bank,
    diagnose::diagnosis::Trim,
    live::{model::Model, scene::Scene, theme::Theme},
    quantity::signed,
    series::{
        label::{Label, region::Region},
        timeline::course::Second,
    },
};

/// Seconds that a letter of a strip shows: two dots, so that a bump of three seconds can still be seen.
const SECONDS_A_LETTER: u64 = 6;
/// Heights of the strips' ranges, percent: the least that holds what is shown.
const REACHES_PCT: [f64; 4] = [10.0, 25.0, 50.0, 100.0];
/// Cells for the numbers beside the strips.
const NUMBERS: u16 = 20;

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let strip_width = area.width.saturating_sub(NUMBERS + 5);
    let length_s = SECONDS_A_LETTER * u64::from(strip_width);
    let explained = format!("% fuel added, last {:.0} min", length_s as f64 / 60.0);
    let area = heading(buffer, area, "Fuel trim", &[explained], theme);
    let Some(model) = scene.model else {
        return;
    };
    let now_s = scene.now_us / 1_000_000;
    let from_s = now_s.saturating_sub(length_s);
    let banks = banks(model, from_s);
    if banks.is_empty() {
        return line(
            buffer,
            area,
            0,
            &Line::styled("No fuel trim read yet.", theme.quiet()),
        );
    }
    let ribbon = u16::from(area.height > banks.len() as u16 * 2);
    let [strips, foot] =
        Layout::vertical([Constraint::Min(0), Constraint::Length(ribbon)]).areas(area);
    let reach = reach(model, from_s);
    let areas = Layout::vertical(vec![Constraint::Fill(1); banks.len()]).split(strips);
    for (bank, place) in banks.iter().zip(areas.iter()) {
        let [axis, strip, numbers] = Layout::horizontal([
            Constraint::Length(4),
            Constraint::Min(0),
            Constraint::Length(NUMBERS),
        ])
        .spacing(1)
        .areas(*place);
        draw_axis(buffer, axis, reach, theme);
        let mut dots = Strip::new(
            strip,
            Axes {
                time: (now_s as f64 - length_s as f64, now_s as f64),
                reach,
            },
        );
        for second in model.history().since(from_s) {
            if let Some(pct) = trim_pct(second, *bank) {
                dots.set(second.second as f64, pct);
            }
        }
        dots.draw(buffer, theme.strong(), theme.quiet());
        draw_numbers(buffer, numbers, scene, model, *bank, theme);
    }
    let place = Rect {
        x: foot.x + 5,
        width: strip_width,
        ..foot
    };
    draw_ribbon(buffer, place, model, (now_s, length_s), theme);
}

/// Banks whose fuel trim was read lately.
fn banks(model: &Model, from_s: u64) -> Vec<Bank> {
    let known = |bank: &Bank| {
        let mut seconds = model.history().since(from_s);
        seconds.any(|second| trim_pct(second, *bank).is_some())
    };
    Bank::ALL.into_iter().filter(known).collect()
}

fn trim_pct(second: &Second, bank: Bank) -> Option<f64> {
    let y = second.trim_log[bank]?;
    Some(100.0 * y.exp_m1())
}

fn reach(model: &Model, from_s: u64) -> f64 {
    let trims = model
        .history()
        .since(from_s)
        .flat_map(|second| second.trim_log.into_values());
    let largest = trims
        .flatten()
        .map(|y| (100.0 * y.exp_m1()).abs())
        .fold(0.0, f64::max);
    let fits = REACHES_PCT.into_iter().find(|reach| *reach >= largest);
    fits.unwrap_or(100.0)
}

fn draw_axis(buffer: &mut Buffer, area: Rect, reach: f64, theme: Theme) {
    let quiet = |text: String| Line::styled(format!("{text:>4}"), theme.quiet());
    line(buffer, area, 0, &quiet(format!("+{reach:.0}")));
    if area.height > 2 {
        line(buffer, area, area.height / 2, &quiet("0".to_owned()));
    }
    if area.height > 1 {
        line(
            buffer,
            area,
            area.height - 1,
            &quiet(format!("−{reach:.0}")),
        );
    }
}

/// The bank, its fuel trim now, and as many of the regions' means as there is room for.
fn draw_numbers(
    buffer: &mut Buffer,
    area: Rect,
    scene: &Scene<'_>,
    model: &Model,
    bank: Bank,
    theme: Theme,
) {
    let latest = model.history().latest();
    let now = latest.and_then(|second| trim_pct(second, bank));
    let now = now.map_or("–".to_owned(), |pct| format!("{} %", signed(pct)));
    let first = Line::from(vec![
        Span::styled(format!("bank {}", bank.number()), theme.strong()),
        Span::raw(" now "),
        Span::styled(now, theme.strong()),
    ]);
    line(buffer, area, 0, &first);
    let mut trims: Vec<&Trim> = scene
        .judgement
        .diagnosis
        .trims
        .iter()
        .filter(|trim| trim.bank == bank.number())
        .collect();
    // where there is no room for all, those with most behind them
    trims.sort_by(|a, b| b.seconds.total_cmp(&a.seconds));
    for (row, trim) in (1..).zip(trims) {
        line(buffer, area, row, &mean(trim, theme));
    }
}

fn mean(trim: &Trim, theme: Theme) -> Line<'static> {
    let half = 0.5 * (trim.high_pct - trim.low_pct);
    let region = short(trim.region);
    Line::from(vec![
        Span::raw(format!("{:>5}", signed(trim.mean_pct))),
        Span::styled(format!(" ±{half:.1} {region}"), theme.quiet()),
    ])
}

/// A region in a word or two.
const fn short(region: Region) -> &'static str {
    match region {
        Region::WarmIdle => "idle",
        Region::RaisedIdle => "2500 rpm",
        Region::LightCruise => "cruise",
        Region::Loaded => "loaded",
    }
}

/// A line under the strips that is full where seconds count.
fn draw_ribbon(
    buffer: &mut Buffer,
    area: Rect,
    model: &Model,
    (now_s, length_s): (u64, u64),
    theme: Theme,
) {
    if area.height == 0 || area.width == 0 {
        return;
    }
    for second in model.history().since(now_s.saturating_sub(length_s)) {
        if second.label != Label::Used || second.second > now_s {
            continue;
        }
        let back = (now_s - second.second) * u64::from(area.width - 1) / length_s.max(1);
        let x = area.x + area.width - 1 - back as u16;
        if let Some(cell) = buffer.cell_mut((x, area.y)) {
            cell.set_char('▔').set_style(theme.counts());
        }
    }
    let words = Line::styled("counts", theme.quiet());
    let beside = Rect {
        x: area.x + area.width + 1,
        width: NUMBERS,
        ..area
    };
    buffer.set_line(beside.x, beside.y, &words, beside.width);
}
